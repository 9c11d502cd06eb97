#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "batch/folder.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::StartsWith;

class PlanTest : public FolderTest {
 protected:
  Result<Plan> Make(PlanRequest request = {}) {
    request.folder = In();
    request.results = Out();
    if (!table_.empty()) {
      auto manifest =
          ParseManifest(std::as_bytes(std::span(table_.data(), table_.size())), "m.csv");
      CF_CHECK(manifest);
      manifest_ = *manifest;
      request.manifest = &manifest_;
    }
    return MakePlan(request, designs_);
  }
  std::vector<Design> designs_ = {TwoSections()};
  std::string table_;
  Manifest manifest_;
};

TEST_F(PlanTest, PicturesAreFoundByTheirEndingAndSorted) {
  for (const char* name : {"b.PNG", "a.tif", "c.jpeg", "notes.txt", ".hidden.png", "sub/d.png"})
    Picture(name);
  EXPECT_THAT(*FindImages(In(), false), ElementsAre("a.tif", "b.PNG", "c.jpeg"));
  EXPECT_THAT(*FindImages(In(), true), ElementsAre("a.tif", "b.PNG", "c.jpeg", "sub/d.png"));
  EXPECT_THAT(FindImages(In() + "/none", false), FailsWith(Code::kFileMissing));
  EXPECT_THAT(FindImages(In() + "/a.tif", false), FailsWith(Code::kFileMissing));
}

TEST_F(PlanTest, ResultsWithinTheFolderAndLinksToFoldersAreLeftOut) {
  Picture("a.png");
  Picture("results/a.png");
  fs::create_directory_symlink(root_ / "in", root_ / "in" / "again");
  EXPECT_THAT(*FindImages(In(), true, In() + "/results"), ElementsAre("a.png"));
  EXPECT_THAT(*FindImages(In(), true, In() + "/./results/"), ElementsAre("a.png"));
}

TEST_F(PlanTest, TheManifestsOrderAndWordsAreTaken) {
  Picture("a.png");
  Picture("b.png");
  table_ = "image,serial,plane,factor:oven\n./b.png,2,tip,hot\na.png,1,shaft_mid,cold\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  ASSERT_EQ(plan->faces.size(), 2u);
  EXPECT_EQ(plan->faces[0].entry.image, "b.png");
  EXPECT_EQ(plan->faces[0].entry.plane, "tip");
  EXPECT_EQ(plan->faces[0].entry.part, "LV-7504");
  EXPECT_EQ(plan->faces[0].entry.revision, "C");
  EXPECT_EQ(plan->faces[0].entry.factors.at("oven"), "hot");
  EXPECT_TRUE(plan->faces[0].ready);
  EXPECT_EQ(plan->faces[0].design, &designs_[0]);
  EXPECT_TRUE(plan->warnings.empty());
}

TEST_F(PlanTest, PicturesThatTheManifestDoesNotNameAreTold) {
  for (const char* name : {"a.png", "b.png", "c.png"}) Picture(name);
  table_ = "image,plane\nb.png,tip\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_EQ(plan->faces.size(), 1u);
  EXPECT_THAT(plan->warnings, ElementsAre(HasSubstr("2 pictures of the folder are not in the "
                                                    "manifest and are left out: a.png, c.png")));
}

TEST_F(PlanTest, AnImageOutsideTheFolderIsNeverTouched) {
  std::ofstream(root_ / "secret.png") << "x";
  table_ = "image,plane\n../secret.png,tip\n/etc/passwd.png,tip\na/../../secret.png,tip\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  for (const PlannedFace& face : plan->faces) {
    EXPECT_FALSE(face.ready || face.propose);
    EXPECT_EQ(face.entry.state, FaceState::kWaiting);
    EXPECT_THAT(face.entry.reason, HasSubstr("lies outside the folder"));
  }
}

TEST_F(PlanTest, OneImageInTwoSpellingsIsMeasuredOnce) {
  Picture("a.png");
  table_ = "image,plane\na.png,tip\n./a.png,shaft_mid\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_TRUE(plan->faces[0].ready);
  EXPECT_FALSE(plan->faces[1].ready);
  EXPECT_THAT(plan->faces[1].entry.reason, HasSubstr("stands in another row too"));
}

TEST_F(PlanTest, APictureThatIsNotThereWaits) {
  table_ = "image,plane\nlater.png,tip\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_EQ(plan->faces[0].entry.state, FaceState::kWaiting);
  EXPECT_EQ(plan->faces[0].entry.code, "file-missing");
  EXPECT_FALSE(plan->faces[0].ready);
}

TEST_F(PlanTest, WithoutAPlaneAFaceIsOnlyProposed) {
  Picture("a.png");
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_FALSE(plan->faces[0].ready);
  EXPECT_TRUE(plan->faces[0].propose);
}

TEST_F(PlanTest, TheOnlySectionOfADrawingNeedsNoName) {
  Picture("a.png");
  designs_[0].sections.pop_back();
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_EQ(plan->faces[0].entry.plane, "shaft_mid");
  EXPECT_TRUE(plan->faces[0].ready);
}

TEST_F(PlanTest, TheCallsSectionIsForFacesWithoutAPlaneAndContradictsNone) {
  Picture("a.png");
  PlanRequest request;
  request.section = "tip";
  table_ = "image,plane\na.png,\n";
  EXPECT_EQ(Make(request)->faces[0].entry.plane, "tip");
  table_ = "image,plane\na.png,shaft_mid\n";
  const auto plan = Make(request);
  ASSERT_THAT(plan, FailsWith(Code::kUsage));
  EXPECT_THAT(plan.error().message, HasSubstr("row 2 has plane shaft_mid, the call says"));
  request.section = "tipp";
  table_ = "image\na.png\n";
  EXPECT_THAT(Make(request), FailsWith(Code::kNotFound));
}

TEST_F(PlanTest, AnUnknownPlaneRejectsItsFaceAndNoOther) {
  Picture("a.png");
  Picture("b.png");
  table_ = "image,plane\na.png,tipp\nb.png,tip\n";
  const auto plan = Make();
  ASSERT_THAT(plan, IsOk());
  EXPECT_EQ(plan->faces[0].entry.state, FaceState::kRejected);
  EXPECT_THAT(plan->faces[0].entry.reason, HasSubstr("has no section \"tipp\", perhaps \"tip\""));
  EXPECT_TRUE(plan->faces[1].ready);
}

TEST_F(PlanTest, AnotherPartOrRevisionThanTheDrawingsIsRefused) {
  Picture("a.png");
  for (const char* table :
       {"image,plane,part\na.png,tip,XX-1\n", "image,plane,revision\na.png,tip,B\n"}) {
    table_ = table;
    const auto plan = Make();
    ASSERT_THAT(plan, IsOk());
    EXPECT_EQ(plan->faces[0].entry.code, "design-mismatch");
    EXPECT_FALSE(plan->faces[0].ready);
  }
}

TEST_F(PlanTest, OfSeveralDrawingsThePartChoosesAndNothingElse) {
  Picture("a.png");
  designs_.push_back(TwoSections("LV-8000"));
  designs_.push_back(TwoSections("LV-8000", "D"));
  table_ = "image,plane,part\na.png,tip,LV-7504\n";
  EXPECT_EQ(Make()->faces[0].design, &designs_[0]);
  table_ = "image,plane,part,revision\na.png,tip,LV-8000,D\n";
  EXPECT_EQ(Make()->faces[0].design, &designs_[2]);
  for (const char* table : {"image,plane\na.png,tip\n", "image,plane,part\na.png,tip,LV-8000\n"}) {
    table_ = table;
    const auto plan = Make();
    EXPECT_FALSE(plan->faces[0].ready);
    EXPECT_THAT(plan->faces[0].entry.reason, HasSubstr("drawings could be meant"));
  }
}

TEST_F(PlanTest, NamesThatDoNotFitThePatternWaitAndTheOthersGoOn) {
  Picture("12_tip.png");
  Picture("odd.png");
  const auto pattern = NamePattern::Parse("{serial}_{plane}.png");
  PlanRequest request;
  request.pattern = &*pattern;
  const auto plan = Make(request);
  ASSERT_THAT(plan, IsOk());
  EXPECT_TRUE(plan->faces[0].ready);
  EXPECT_EQ(plan->faces[0].entry.sample.serial, "12");
  EXPECT_EQ(plan->faces[1].entry.state, FaceState::kWaiting);
  EXPECT_THAT(plan->faces[1].entry.reason, HasSubstr("does not fit --pattern"));
}

TEST_F(PlanTest, AFileThatIsStillBeingWrittenIsLeftForLater) {
  Picture("a.png");
  Picture("b.png");
  PlanRequest request;
  request.section = "tip";
  request.whole = [](const std::string& path) { return path.ends_with("a.png"); };
  EXPECT_EQ(Make(request)->faces.size(), 1u);
  table_ = "image\na.png\nb.png\n";
  const auto plan = Make(request);
  EXPECT_TRUE(plan->faces[0].ready);
  EXPECT_FALSE(plan->faces[1].ready);
  EXPECT_THAT(plan->faces[1].entry.reason, HasSubstr("still being written"));
}

TEST(OutputStems, FilesOfOneNameInTwoFoldersStayApart) {
  const std::vector<std::string> images = {"a.png", "sub/a.png", "b/c.d.tif"};
  EXPECT_THAT(OutputStems(images), ElementsAre("a", "sub/a", "b/c.d"));
}

TEST(OutputStems, TwoEndingsOrCasesOfOneNameStayApart) {
  const std::vector<std::string> images = {"a.png", "a.tif", "A.jpg", "b.png"};
  const auto stems = OutputStems(images);
  EXPECT_THAT(stems, ElementsAre("a.png", "a.tif", "A.jpg", "b"));
  const std::vector<std::string> cases = {"x.png", "X.PNG"};
  const auto apart = OutputStems(cases);
  EXPECT_NE(apart[0], apart[1]);
}

TEST(OutputStems, HostileNamesBecomeHarmlessAndStayDifferent) {
  const std::vector<std::string> images = {"=HYPERLINK(\"x\").png",
                                           "<script>alert(1)<script>.png",
                                           "a\nb.png",
                                           "a\tb.png",
                                           "\xe2\x80\xaegnp.exe.png",
                                           "\xff\xfe.png",
                                           "\x1b[2J.png",
                                           std::string(251, 'n') + ".png",
                                           std::string(250, 'n') + "m.png",
                                           "\xc3\xa9t\xc3\xa9.png"};
  const auto stems = OutputStems(images);
  const std::set<std::string> different(stems.begin(), stems.end());
  EXPECT_EQ(different.size(), stems.size());
  for (const std::string& stem : stems) {
    EXPECT_LE((stem + ".result.json.draft-XXXXXX").size(), 255u);
    for (const char c : stem) EXPECT_GE(static_cast<unsigned char>(c), 0x20u);
    EXPECT_EQ(stem.find("\xe2\x80\xae"), std::string::npos);
  }
  EXPECT_EQ(stems[0], "=HYPERLINK(\"x\")");
  EXPECT_THAT(stems[2], StartsWith("a_b~"));
  EXPECT_EQ(stems[9], "\xc3\xa9t\xc3\xa9");
}

}  // namespace
}  // namespace cutface
