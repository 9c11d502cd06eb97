// The plots of a row: one question each, the answer first, told by more than colour.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "compare/runs.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;

RunComparison Compared(const std::vector<double>& septa) {
  RunGatherer gatherer;
  for (std::size_t i = 0; i < septa.size(); ++i) {
    SectionResult r = sample::Face(
        sample::Serial(i), {sample::LimitRow("8", "septum", septa[i], 0.09, {}, "critical")});
    r.sample.taken =
        "2026-04-08T" + std::string(i < 10 ? "0" : "") + std::to_string(i % 24) + ":00";
    EXPECT_THAT(gatherer.Add(sample::EntryOf(r), r), IsOk());
  }
  return *CompareRun(gatherer.Finish());
}

TEST(Graphs, EveryPlotHasAQuestionAndItsAnswer) {
  std::vector<double> septa = {0.118, 0.121, 0.119, 0.122, 0.120, 0.123, 0.117, 0.120, 0.121};
  const auto graphs = RowGraphs(Compared(septa).rows[0]);
  ASSERT_EQ(graphs.size(), 4u);
  for (const Graph& graph : graphs) {
    EXPECT_TRUE(graph.question.ends_with("?")) << graph.id;
    EXPECT_TRUE(graph.answer.ends_with(".")) << graph.answer;
  }
  EXPECT_THAT(graphs[1].answer, HasSubstr("Nothing unusual in the order of the pictures"));
}

TEST(Graphs, WhatIsBeyondIsTellableByShape) {
  std::vector<double> septa = {0.118, 0.1185, 0.119, 0.1185, 0.118, 0.1185, 0.119, 0.13, 0.118};
  const RunComparison comparison = Compared(septa);
  const auto graphs = RowGraphs(comparison.rows[0]);
  const Graph& order = graphs[1];
  ASSERT_EQ(order.marks.size(), 2u);
  EXPECT_NE(order.marks[0].shape, order.marks[1].shape);
  EXPECT_NE(order.marks[0].key, order.marks[1].key);
  ASSERT_EQ(order.marks[1].points.size(), 1u);
  EXPECT_EQ(order.marks[1].points[0].y, 0.13);
  EXPECT_THAT(order.answer, HasSubstr("0008"));
}

TEST(Graphs, FewPartsHaveNoProbabilityPlotAndEqualOnesNone) {
  EXPECT_EQ(RowGraphs(Compared({0.118, 0.121, 0.119}).rows[0]).size(), 2u);
  EXPECT_TRUE(RowGraphs(Compared({0.118, 0.118, 0.118}).rows[0]).empty());
}

TEST(Graphs, ManyPartsAreThinnedAndThePlotSaysSo) {
  std::vector<double> septa;
  Random random(3);
  for (int i = 0; i < 3000; ++i) septa.push_back(0.12 + 0.001 * random.Normal());
  const auto graphs = RowGraphs(Compared(septa).rows[0]);
  EXPECT_LE(graphs[1].marks[0].points.size(), 320u);
  EXPECT_THAT(graphs[1].answer, HasSubstr("One of 10 parts is drawn"));
}

}  // namespace
}  // namespace cutface
