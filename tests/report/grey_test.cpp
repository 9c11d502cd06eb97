// Every plot of a comparison, a study and a qualification, printed in grey and seen by a
// colour-blind reader: series of one plot stay apart, and everything stands out from the paper.
//
// Colours are those of the rendered ink, not of a table. Grey: luma of ITU-R BT.601. Contrast: WCAG
// 2.1, 1.4.11 (3:1 for graphics). Colour-blind: Machado, Oliveira & Fernandes, "A physiologically-
// based model for simulation of color vision deficiency", IEEE TVCG 15 (2009), matrices of severity
// 1.0 in linear RGB (from memory; their rows sum to 1). Distance of colours: CIE 1976 L*a*b*, D65.
#include <cairo.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "compare/runs.h"
#include "cutface/report.h"
#include "cutface/stats.h"

namespace cutface {
namespace {

// A sample of one series: 120 points at 288 dots an inch, as a laser prints.
constexpr int kPoints = 120, kDots = 4, kSide = kPoints * kDots;

struct Rgb8 {
  int r = 255, g = 255, b = 255;
  bool operator==(const Rgb8&) const = default;
};
using Sample = std::vector<Rgb8>;

// One series alone in a plot without axes' numbers: a mark in the middle, a line across, a ground.
Sample Drawn(const Graph& series) {
  cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, kSide, kSide);
  cairo_t* cairo = cairo_create(surface);
  cairo_set_source_rgb(cairo, 1, 1, 1);
  cairo_paint(cairo);
  cairo_scale(cairo, kDots, kDots);
  EXPECT_TRUE(DrawPlot(cairo, {0, 0, kPoints, kPoints}, series));
  cairo_destroy(cairo);
  cairo_surface_flush(surface);
  const unsigned char* bytes = cairo_image_surface_get_data(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  Sample sample;
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x) {
      const unsigned char* p = bytes + y * stride + 4 * x;
      sample.push_back({p[2], p[1], p[0]});
    }
  cairo_surface_destroy(surface);
  return sample;
}

Graph Bare() {
  Graph graph;
  graph.map = true;  // neither axes nor numbers
  graph.x.range = {{-1, 1}};
  graph.y.range = {{-1, 1}};
  return graph;
}

struct Series {
  std::string key;
  Sample sample;
  bool ground = false;  // a band: meant to be faint
};

std::vector<Series> SeriesOf(const Graph& graph) {
  std::vector<Series> all;
  for (const PlotMarks& marks : graph.marks) {
    if (marks.key.empty()) continue;
    Graph one = Bare();
    one.marks = {{{{0, 0, {}, {}}}, marks.shape, marks.tone, ""}};
    all.push_back({marks.key, Drawn(one), false});
  }
  for (const PlotPath& path : graph.paths) {
    if (path.key.empty()) continue;
    Graph one = Bare();
    one.paths = {{{{-0.9, 0}, {0.9, 0}}, false, path.style, path.tone, path.weight, ""}};
    all.push_back({path.key, Drawn(one), false});
  }
  for (const PlotBand& band : graph.bands) {
    if (band.key.empty()) continue;
    Graph one = Bare();
    one.bands = {{{{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}}, ""}};
    all.push_back({band.key, Drawn(one), true});
  }
  return all;
}

double Grey(Rgb8 c) { return 0.299 * c.r + 0.587 * c.g + 0.114 * c.b; }

// Share of the ink of both (grey below 230) that differs by a quarter of the range and more.
double GreyDifference(const Sample& a, const Sample& b) {
  int ink = 0, differ = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const double ga = Grey(a[i]), gb = Grey(b[i]);
    if (ga > 230 && gb > 230) continue;
    ++ink;
    differ += std::abs(ga - gb) > 64 ? 1 : 0;
  }
  return ink > 0 ? static_cast<double>(differ) / ink : 0;
}

// The colour that most of the ink has.
Rgb8 InkOf(const Sample& sample) {
  std::map<std::tuple<int, int, int>, int> votes;
  for (const Rgb8& c : sample)
    if (Grey(c) < 245) ++votes[{c.r, c.g, c.b}];
  Rgb8 best;
  int most = 0;
  for (const auto& [c, count] : votes)
    if (count > most) most = count, best = {std::get<0>(c), std::get<1>(c), std::get<2>(c)};
  return best;
}

using Vec = std::array<double, 3>;
Vec LinearOf(Rgb8 c) {
  const auto linear = [](int v) {
    const double s = v / 255.0;
    return s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4);
  };
  return {linear(c.r), linear(c.g), linear(c.b)};
}
double Luminance(const Vec& v) { return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; }
double Contrast(Rgb8 a, Rgb8 b) {
  const double p = Luminance(LinearOf(a)) + 0.05, q = Luminance(LinearOf(b)) + 0.05;
  return std::max(p, q) / std::min(p, q);
}
double ContrastToPaper(Rgb8 c) { return Contrast(c, Rgb8{}); }

Vec LabOf(const Vec& linear) {
  const double x = 0.4124 * linear[0] + 0.3576 * linear[1] + 0.1805 * linear[2];
  const double y = Luminance(linear);
  const double z = 0.0193 * linear[0] + 0.1192 * linear[1] + 0.9505 * linear[2];
  const auto f = [](double t) {
    return t > 216.0 / 24389 ? std::cbrt(t) : (24389.0 / 27 * t + 16) / 116;
  };
  const double fx = f(x / 0.9505), fy = f(y), fz = f(z / 1.089);
  return {116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

struct Vision {
  const char* name;
  double matrix[3][3];
};
constexpr Vision kVisions[] = {{"protanopia",
                                {{0.152286, 1.052583, -0.204868},
                                 {0.114503, 0.786281, 0.099216},
                                 {-0.003882, -0.048116, 1.051998}}},
                               {"deuteranopia",
                                {{0.367322, 0.860646, -0.227968},
                                 {0.280085, 0.672501, 0.047413},
                                 {-0.011820, 0.042940, 0.968881}}},
                               {"tritanopia",
                                {{1.255528, -0.076749, -0.178779},
                                 {-0.078411, 0.930809, 0.147602},
                                 {0.004733, 0.691367, 0.303900}}}};

double SeenDistance(const Vision& vision, Rgb8 a, Rgb8 b) {
  const auto seen = [&](Rgb8 c) {
    const Vec v = LinearOf(c);
    Vec out{};
    for (std::size_t i = 0; i < 3; ++i) {
      for (std::size_t j = 0; j < 3; ++j) out[i] += vision.matrix[i][j] * v[j];
      out[i] = std::clamp(out[i], 0.0, 1.0);
    }
    return LabOf(out);
  };
  const Vec p = seen(a), q = seen(b);
  return std::hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

// --- the plots -----------------------------------------------------------------------------------

void AddComparison(std::vector<Graph>& graphs) {
  const auto run = [](double shift) {
    RunGatherer gatherer;
    Random random(8);
    for (std::size_t i = 0; i < 30; ++i) {
      const double septum = 0.12 + shift + 0.004 * random.Normal() + (i == 20 ? 0.05 : 0);
      SectionResult r =
          sample::Face(sample::Serial(i),
                       {sample::LimitRow("8", "septum", septum, 0.09, {}, "critical"),
                        sample::LimitRow("9", "diameter", 2.5 + shift + 0.01 * random.Normal(), 2.4,
                                         2.6, "major")});
      r.sample.taken =
          "2026-04-08T" + std::string(i % 24 < 10 ? "0" : "") + std::to_string(i % 24) + ":00";
      FaceEntry entry = sample::EntryOf(r);
      EXPECT_TRUE(gatherer.Add(entry, r));
    }
    return gatherer.Finish();
  };
  const Run mine = run(0), other = run(0.02);
  const auto comparison = CompareRun(mine);
  ASSERT_TRUE(comparison);
  for (const RowStudy& row : comparison->rows)
    for (const Graph& graph : RowGraphs(row)) graphs.push_back(graph);
  const auto difference = CompareAgainst(mine, other, {});
  ASSERT_TRUE(difference);
  for (const Graph& graph : DifferenceGraphs(*difference)) graphs.push_back(graph);

  StationTrend trend;
  trend.subject = "septum", trend.unit = "mm";
  trend.labels = {"1", "2"};
  trend.stations_mm = {100, 200, 300};
  trend.points = {{0, 100, 0.11}, {0, 200, 0.12}, {1, 100, 0.1}, {1, 300, 0.13}};
  trend.gaps = {{1, 200}};
  for (const double mean : {0.105, 0.12, 0.13})
    trend.at.push_back({2, mean, mean, mean, mean, 0.005});
  trend.sentence = "Rises.";
  graphs.push_back(TrendGraph(trend));

  FactorEffect effect;
  effect.factor = "mandrels", effect.row = mine.rows[0];
  effect.levels = {{"yes", {0.11, 0.12, 0.13}, 0.12, Interval{0.11, 0.13}},
                   {"no", {0.13, 0.14, 0.15}, 0.14, Interval{0.13, 0.15}}};
  effect.sentence = "Differs";
  graphs.push_back(FactorGraph(effect));

  MeanFace face;
  MeanFeature feature;
  feature.name = "outline";
  for (int i = 0; i < 72; ++i) {
    const PointUm n{std::cos(i * kPi / 36), std::sin(i * kPi / 36)};
    feature.normals.push_back(n);
    feature.nominal.push_back({1000 * n.x, 1000 * n.y});
    feature.places.push_back({5, 10 * n.x, Interval{10 * n.x - 4, 10 * n.x + 4}});
  }
  feature.parts = 5;
  face.features = {feature};
  face.worst = {{0, 0, 10, Interval{6, 14}, 90}};
  face.sentence = "Off to the right.";
  graphs.push_back(MeanFaceGraph(face, LengthUnit::kMillimetre));
}

void AddStudy(std::vector<Graph>& graphs) {
  StudyInput input;
  StudySubject subject;
  subject.title = "septum", subject.unit = "mm", subject.min = 9.0, subject.max = 13.0;
  Random random(4);
  for (int piece = 0; piece < 6; ++piece)
    for (int person = 0; person < 4; ++person)
      for (int trial = 0; trial < 2; ++trial) {
        StudyReading reading;
        reading.piece = std::to_string(piece);
        reading.person = std::string(1, static_cast<char>('A' + person));
        reading.value = 10 + 0.3 * piece + 0.1 * person + 0.1 * random.Normal();
        subject.readings.push_back(reading);
      }
  input.subjects = {subject};
  const auto study = RunStudy(input);
  ASSERT_TRUE(study);
  for (const Graph& graph : StudyGraphs(study->subjects[0])) graphs.push_back(graph);
}

void AddQualification(std::vector<Graph>& graphs) {
  Qualification q;
  WordErrors word;
  word.word = "septum";
  word.n = 60, word.faces = 60, word.mean_um = 0.4, word.sd_um = 0.7, word.rms_um = 0.8;
  word.limit_um = 3;
  q.words = {word};
  q.voids.classes = {{6, 12, 20, 15, 0.6}, {12, 24, 20, 20, 0.86}};
  q.septa = q.voids;
  for (const char* name : {"blur", "noise", "gamma", "tilt"}) {
    FactorFigure factor;
    factor.name = name, factor.least = 1, factor.greatest = 2;
    factor.rms_um = {1, 1.2, 1.5};
    factor.faces = {20, 20, 20};
    q.factors.push_back(factor);
  }
  for (const Graph& graph : QualificationGraphs(q)) graphs.push_back(graph);
}

std::vector<Graph> AllGraphs() {
  std::vector<Graph> graphs;
  AddComparison(graphs);
  AddStudy(graphs);
  AddQualification(graphs);
  return graphs;
}

// A quarter of the ink differs at least: a dot and a square of one size have 21 %, which is too
// little, a ring and a square half.
constexpr double kLeastGreyDifference = 0.25;

TEST(GreyPrint, SeriesOfOnePlotStayApart) {
  int pairs = 0;
  for (const Graph& graph : AllGraphs()) {
    const auto all = SeriesOf(graph);
    for (std::size_t a = 0; a < all.size(); ++a)
      for (std::size_t b = a + 1; b < all.size(); ++b) {
        // A ground is told by its area; what is drawn on it must stand out from it.
        const bool ground = all[a].ground || all[b].ground;
        const double apart = ground ? Contrast(InkOf(all[a].sample), InkOf(all[b].sample)) / 2.5 *
                                          kLeastGreyDifference
                                    : GreyDifference(all[a].sample, all[b].sample);
        EXPECT_GE(apart, kLeastGreyDifference)
            << graph.id << ": \"" << all[a].key << "\" and \"" << all[b].key << "\"";
        ++pairs;
      }
  }
  EXPECT_GE(pairs, 20);
}

TEST(GreyPrint, EverySeriesStandsOutFromThePaper) {
  int series = 0;
  for (const Graph& graph : AllGraphs())
    for (const Series& one : SeriesOf(graph)) {
      const Rgb8 ink = InkOf(one.sample);
      if (one.ground) {
        EXPECT_LE(Grey(ink), 255 - 20) << graph.id << ": " << one.key;  // a light ground
      } else {
        EXPECT_GE(ContrastToPaper(ink), 3) << graph.id << ": " << one.key;
      }
      ++series;
    }
  EXPECT_GE(series, 20);
}

// Series of unlike colour stay unlike to a colour-blind reader (a distance of 2.3 is just seen; 15
// is seen at a glance); those of like colour differ in grey, above.
TEST(ColourBlind, ColoursOfOnePlotStayUnlike) {
  int pairs = 0;
  for (const Graph& graph : AllGraphs()) {
    const auto all = SeriesOf(graph);
    for (std::size_t a = 0; a < all.size(); ++a)
      for (std::size_t b = a + 1; b < all.size(); ++b) {
        const Rgb8 p = InkOf(all[a].sample), q = InkOf(all[b].sample);
        if (p == q || all[a].ground || all[b].ground) continue;
        for (const Vision& vision : kVisions)
          EXPECT_GE(SeenDistance(vision, p, q), 15)
              << vision.name << ", " << graph.id << ": \"" << all[a].key << "\" and \""
              << all[b].key << "\"";
        ++pairs;
      }
  }
  EXPECT_GE(pairs, 8);
}

// The judge itself: red and green of one luminance are unlike to most and alike to a deuteranope;
// two greys of one tone are alike in print.
TEST(ColourBlind, TheSimulationTellsKnownConfusions) {
  const Rgb8 red{190, 60, 40}, green{96, 112, 38};
  const Vision plain{"", {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
  EXPECT_GT(SeenDistance(plain, red, green), 2 * SeenDistance(kVisions[1], red, green));
  for (const Vision& vision : kVisions)
    for (const auto& row : vision.matrix) EXPECT_NEAR(row[0] + row[1] + row[2], 1, 2e-6);
}

}  // namespace
}  // namespace cutface
