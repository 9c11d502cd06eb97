#include <gmock/gmock.h>

#include "archive/stores.h"

namespace cutface {
namespace {

using testing::HasSubstr;

class DecisionsTest : public StoreTest {
 protected:
  SectionResult Doubtful() const {
    SectionResult result = ResultOf("B-07");
    result.verdict = Verdict::kNotMeasured;
    CharacteristicResult row;
    row.no = "7";
    row.of = {"scope", "wash"};
    row.quantity = "septum";
    row.verdict = Verdict::kNotMeasured;
    row.reason = "the edge is not seen";
    result.characteristics.push_back(row);
    row.no = "8";
    row.verdict = Verdict::kDoesNotConform;
    row.reason.clear();
    result.characteristics.push_back(row);
    Finding low, high;
    low.kind = "debris";
    low.severity = Severity::kLow;
    high.kind = "crosstalk";
    high.severity = Severity::kHigh;
    high.text = "scope and wash may be joined";
    result.findings = {low, high};
    return result;
  }
  static Disposition Row(const std::string& no, DispositionKind what = DispositionKind::kAccept) {
    Disposition d;
    d.what = what;
    d.row = no;
    d.reason = "seen again under the other objective";
    return d;
  }
};

TEST_F(DecisionsTest, SigningIsRefusedWhileAnUnmeasuredRowOrAHighFindingStandsOpen) {
  Archive store = Started();
  const std::vector<std::int64_t> result = {Add(store, Doubtful()).seq};
  const Signer inspector = Inspector(store);
  const auto measured = [&] { return store.Sign(result, SignatureMeaning::kMeasured, inspector); };
  auto refused = measured();
  ASSERT_THAT(refused, FailsWith(Code::kUnsettled));
  EXPECT_THAT(refused.error().message, HasSubstr("row 7 (septum of scope, wash): not measured"));
  ASSERT_THAT(store.Dispose(result[0], Row("7"), inspector), IsOk());
  refused = measured();
  ASSERT_THAT(refused, FailsWith(Code::kUnsettled));
  EXPECT_THAT(refused.error().message, HasSubstr("finding 2 (crosstalk)"));
  Disposition finding = Row("", DispositionKind::kRecut);
  finding.finding = 1;
  ASSERT_THAT(store.Dispose(result[0], finding, inspector), IsOk());
  const auto signed_entries = measured();
  ASSERT_THAT(signed_entries, IsOk());
  EXPECT_THAT(signed_entries->front().body, HasSubstr("\"verdict\":\"not measured\""));
  EXPECT_THAT(signed_entries->front().body, HasSubstr("row 8 (septum of scope, wash): does not"));
  EXPECT_EQ(signed_entries->front().about, store.Entry(result[0])->hash);
  EXPECT_EQ(Problems(*store.Verify()), "");
}

TEST_F(DecisionsTest, ApprovalNeedsMoreAndAnotherPerson) {
  Archive store = Started();
  const std::vector<std::int64_t> result = {Add(store, Doubtful()).seq};
  const Signer inspector = Inspector(store), engineer = Engineer(store);
  Disposition finding = Row("");
  finding.finding = 1;
  ASSERT_THAT(store.Dispose(result[0], Row("7"), inspector), IsOk());
  ASSERT_THAT(store.Dispose(result[0], finding, inspector), IsOk());
  const auto approve = [&](const Signer& by) {
    const auto done = store.Sign(result, SignatureMeaning::kApproved, by);
    return done ? std::string("approved") : done.error().message;
  };
  EXPECT_THAT(approve(engineer), HasSubstr("row 8"));
  ASSERT_THAT(store.Dispose(result[0], Row("8", DispositionKind::kScrap), engineer), IsOk());
  EXPECT_THAT(approve(engineer), HasSubstr("must be signed as measured by another person"));
  ASSERT_THAT(store.Sign(result, SignatureMeaning::kMeasured, inspector), IsOk());
  EXPECT_THAT(approve(inspector), HasSubstr("was measured by I. Measure"));
  EXPECT_EQ(approve(engineer), "approved");
  EXPECT_THAT(approve(engineer), HasSubstr("already"));
  const auto state = store.State(result[0]);
  EXPECT_EQ(state->decisions.signatures.size(), 2u);
  EXPECT_EQ(state->decisions.dispositions.size(), 3u);
  EXPECT_TRUE(state->open.empty());
}

TEST_F(DecisionsTest, WhatDoesNotConformIsNotSimplyAccepted) {
  Archive store = Started();
  const std::int64_t result = Add(store, Doubtful()).seq;
  const Signer inspector = Inspector(store);
  const auto refused = store.Dispose(result, Row("8"), inspector);
  ASSERT_THAT(refused, FailsWith(Code::kUsage));
  EXPECT_THAT(refused.error().message, HasSubstr("not accepted without a concession"));
  Disposition concession = Row("8", DispositionKind::kConcession);
  concession.reference = "C-12";
  ASSERT_THAT(store.Dispose(result, concession, inspector), IsOk());
  ASSERT_EQ(store.State(result)->settled.size(), 1u);
  EXPECT_EQ(store.State(result)->settled[0].item.row, "8");
}

TEST_F(DecisionsTest, ADispositionThatSettlesNothingIsRefused) {
  Archive store = Started();
  const std::int64_t result = Add(store, Doubtful()).seq;
  const Signer inspector = Inspector(store);
  EXPECT_THAT(store.Dispose(result, Row("1"), inspector), FailsWith(Code::kUsage));
  EXPECT_THAT(store.Dispose(result, Row("99"), inspector), FailsWith(Code::kUsage));
  EXPECT_THAT(store.Dispose(result, Row("7", DispositionKind::kConcession), inspector),
              FailsWith(Code::kUsage));
  Disposition finding = Row("");
  finding.finding = 0;  // of low severity
  EXPECT_THAT(store.Dispose(result, finding, inspector), FailsWith(Code::kUsage));
  EXPECT_THAT(store.Dispose(2, Row("7"), inspector), FailsWith(Code::kUsage));
  EXPECT_THAT(store.Dispose(999, Row("7"), inspector), FailsWith(Code::kNotFound));
}

TEST_F(DecisionsTest, ADrawingMustBeReleasedByAnEngineerBeforeAnybodySigns) {
  Archive store = Started();
  SectionResult result = ResultOf("B-07");
  const std::string drawing = Write("part.design.json", "the drawing");
  result.design_sha256 = Sha256Hex("the drawing");
  const std::vector<std::int64_t> entry = {Add(store, result).seq};
  const Signer inspector = Inspector(store);
  EXPECT_THAT(store.Sign(entry, SignatureMeaning::kMeasured, inspector),
              FailsWith(Code::kUnsettled));
  ASSERT_THAT(store.AddMethod("drawing", drawing, {}, Engineer(store)), IsOk());
  EXPECT_THAT(store.Sign(entry, SignatureMeaning::kMeasured, inspector), IsOk());
}

TEST_F(DecisionsTest, AReplacedResultIsNotSignedAndOneRefusalRefusesAll) {
  Archive store = Started();
  const Signer inspector = Inspector(store);
  SectionResult result = ResultOf("B-07");
  const std::int64_t old = Add(store, result).seq;
  result.verdict = Verdict::kNotProven;
  Add(store, result);
  const std::int64_t good = Add(store, ResultOf("B-08")).seq;
  const std::int64_t before = store.Head()->entries;
  EXPECT_THAT(store.Sign(std::vector{good, old}, SignatureMeaning::kMeasured, inspector),
              FailsWith(Code::kUnsettled));
  EXPECT_EQ(store.Head()->entries, before);
}

// Whether a result may be signed is looked at and written in one go: a writer who comes in between
// (here: when the signature asks for the time) has to wait.
TEST_F(DecisionsTest, NobodyWritesBetweenTheLookAndTheSignature) {
  struct Visit {
    std::optional<Archive> other;
    std::optional<Code> answer;
  };
  auto visit = std::make_shared<Visit>();
  ArchiveOptions options = QuickOptions();
  options.now = [visit] {
    if (visit->other && !visit->answer) {
      const EntryDraft draft{"overrule", "x", "p", "", "", "", "{}"};
      const auto added = visit->other->Append({&draft, 1});
      visit->answer = added ? Code::kInternal : added.error().code;
    }
    return std::string("2026-03-02T10:00:00Z");
  };
  Archive store = Started(At("s"), options);
  const std::vector<std::int64_t> result = {Add(store, ResultOf("B-07")).seq};
  const Signer inspector = Inspector(store);
  ArchiveOptions impatient = QuickOptions();
  impatient.busy_timeout_s = 1;
  auto other = Archive::Open(At("s"), impatient);
  ASSERT_THAT(other, IsOk());
  visit->other.emplace(std::move(*other));
  EXPECT_THAT(store.Sign(result, SignatureMeaning::kMeasured, inspector), IsOk());
  ASSERT_TRUE(visit->answer.has_value());
  EXPECT_EQ(*visit->answer, Code::kRecordsBusy);
  visit->other.reset();
  EXPECT_EQ(Problems(*store.Verify()), "");
}

}  // namespace
}  // namespace cutface
