#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/roster.h"
#include "roster/runs.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Pair;

TEST(Count, NIsTheNumberOfPartsAndNotOfPictures) {
  Roster run;
  for (const char* serial : {"1", "2", "3"}) {
    for (const char* plane : {"shaft", "tip"}) {
      run.faces.push_back(Measured(std::string(plane) + serial, serial, plane));
    }
  }
  const Counts counts = Count(run);
  EXPECT_EQ(counts.n, 3);
  EXPECT_EQ(counts.n_measured, 3);
  EXPECT_EQ(counts.faces_cut, 6);
  EXPECT_EQ(counts.imaged, 6);
  EXPECT_EQ(counts.measured, 6);
  EXPECT_THAT(counts.n_of_plane, ElementsAre(Pair("shaft", 3), Pair("tip", 3)));
  ASSERT_EQ(counts.parts.size(), 3u);
  EXPECT_THAT(counts.parts[0].planes, ElementsAre("shaft", "tip"));
  EXPECT_EQ(counts.parts[0].faces, 2);
}

TEST(Count, OneSerialInTwoLotsIsTwoParts) {
  Roster run;
  run.faces = {Measured("a", "1", "shaft", "L-1"), Measured("b", "1", "shaft", "L-2")};
  EXPECT_EQ(Count(run).n, 2);
  EXPECT_EQ(Count(run).reimages, 0);
}

TEST(Count, AReimageShowsAFaceThatWasCountedAndARecutShowsANewOne) {
  Roster run;
  run.faces = {Measured("a", "1", "shaft"), Measured("b", "1", "shaft"),
               Measured("c", "1", "shaft")};
  run.faces[1].repeat = RepeatKind::kReimage;
  run.faces[1].repeat_of = "a";
  run.faces[2].repeat = RepeatKind::kRecut;
  run.faces[2].repeat_of = "a";
  const Counts counts = Count(run);
  EXPECT_EQ(counts.n, 1);
  EXPECT_EQ(counts.faces_cut, 2);
  EXPECT_EQ(counts.imaged, 3);
  EXPECT_EQ(counts.reimages, 1);
  EXPECT_EQ(counts.recuts, 1);
  EXPECT_EQ(counts.parts[0].reimages, 1);
  EXPECT_EQ(counts.parts[0].recuts, 1);
  EXPECT_EQ(counts.n_of_plane.at("shaft"), 1);
}

TEST(Count, TheSameFaceNamedTwiceIsAReimageOfItself) {
  Roster run;
  run.faces = {Measured("a", "1", "shaft"), Measured("b", "1", "shaft"), Measured("c", "1", "tip"),
               Measured("d", "1", "shaft")};
  run.faces[3].sample.station_mm = 410;  // another place of the same part
  const Counts counts = Count(run);
  EXPECT_EQ(counts.faces_cut, 3);
  EXPECT_EQ(counts.reimages, 1);
}

TEST(Count, WithoutASerialNumberPartsAreNotCounted) {
  Roster run;
  run.faces = {Measured("a", "1", "shaft"), Measured("b.png", "", "shaft")};
  const Counts counts = Count(run);
  EXPECT_FALSE(counts.n);
  EXPECT_FALSE(counts.n_measured);
  EXPECT_TRUE(counts.parts.empty());
  EXPECT_TRUE(counts.n_of_plane.empty());
  EXPECT_THAT(counts.n_unknown, HasSubstr("1 of 2 faces have no serial number (b.png)"));
  EXPECT_EQ(counts.measured, 2);
  EXPECT_THAT(CountsLine(counts), HasSubstr("n unknown: 1 of 2"));
}

TEST(Count, FacesWithoutASerialNumberAreNeverTakenForReimages) {
  Roster run;
  run.faces = {Measured("a", "", "shaft"), Measured("b", "", "shaft")};
  EXPECT_EQ(Count(run).reimages, 0);
  EXPECT_EQ(Count(run).faces_cut, 2);
}

TEST(Count, ASerialWithAndWithoutALotIsNotGuessed) {
  Roster run;
  run.faces = {Measured("a", "7", "shaft", "L-1"), Measured("b", "7", "tip", "")};
  EXPECT_FALSE(Count(run).n);
  EXPECT_THAT(Count(run).n_unknown, HasSubstr("7 stands both with and without a lot"));
  run.faces = {Measured("a", "7", "shaft"), Measured("b", "7", "tip")};
  run.faces[1].part = "";
  EXPECT_FALSE(Count(run).n);
  EXPECT_THAT(Count(run).n_unknown, HasSubstr("part number"));
}

TEST(Count, RejectedAndWaitingFacesAreToldWithTheirReasons) {
  Roster run;
  run.faces = {Measured("a", "1", "shaft"),
               Rejected(Measured("b", "2", "shaft"), "image-truncated"),
               Rejected(Measured("c", "3", "shaft"), "image-truncated"),
               Rejected(Measured("d", "4", "shaft"), "out-of-focus"), Measured("e", "5", "shaft")};
  run.faces[4].state = FaceState::kWaiting;
  run.faces[4].code = "file-missing";
  run.faces[4].image_sha256 = "";
  const Counts counts = Count(run);
  EXPECT_EQ(counts.imaged, 4);
  EXPECT_EQ(counts.faces_cut, 5);
  EXPECT_EQ(counts.n, 5);
  EXPECT_EQ(counts.n_measured, 1);
  EXPECT_THAT(counts.rejected_by, ElementsAre(Pair("image-truncated", 2), Pair("out-of-focus", 1)));
  EXPECT_EQ(CountsLine(counts),
            "5 faces cut, 4 imaged, 1 measured, 3 rejected (2 image-truncated, 1 out-of-focus), "
            "1 waiting (file-missing); n = 5 parts, 1 of them with a measured face");
}

TEST(Count, AnUnreadablePictureIsThereAllTheSame) {
  Roster run;
  run.faces = {Rejected(Measured("a", "1", "shaft"), "file-unreadable")};
  run.faces[0].image_sha256 = "";
  EXPECT_EQ(Count(run).imaged, 1);
}

TEST(Count, AnEmptyRunHasNoParts) {
  EXPECT_EQ(Count(Roster{}).n, 0);
  EXPECT_EQ(CountsLine(Count(Roster{})), "0 faces cut, 0 imaged, 0 measured; n = 0 parts");
}

}  // namespace
}  // namespace cutface
