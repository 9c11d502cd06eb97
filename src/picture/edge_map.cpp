// The map of edge quality.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "cutface/picture.h"
#include "picture/build.h"

namespace cutface {
namespace {

// Classes by standard uncertainty in pixels of the photo (common practice: a tenth of a pixel is
// what a clean edge gives, half a pixel what a reader would mark by hand).
constexpr double kSharp_px = 0.15, kFair_px = 0.5;

struct EdgeClass {
  Ink ink;
  LineStyle style;
  double weight;
  const char* word;
};
constexpr std::array<EdgeClass, 5> kClasses = {{
    {Ink::kLumen, LineStyle::kSolid, 0.8, "u below 0.15 px"},
    {Ink::kOutline, LineStyle::kDashed, 1.4, "u 0.15 to 0.5 px"},
    {Ink::kFinding, LineStyle::kDashDot, 2.4, "u above 0.5 px"},
    {Ink::kVoid, LineStyle::kDotted, 2.0, "not seen, bridged"},
    {Ink::kRing, LineStyle::kSolid, 1.2, "edited"},
}};
constexpr std::size_t kNone = kClasses.size();  // cut off: there is no edge to draw

std::size_t ClassOf(const TracedContour& contour, const ContourVertex& v, double pitch_um) {
  if (v.state == VertexState::kCutOff) return kNone;
  if (v.state == VertexState::kBridged) return 3;
  if (v.state == VertexState::kEdited) return 4;
  const double u = std::hypot(std::hypot(v.sigma_um, v.doubt_um),
                              std::hypot(contour.u_common_um, contour.u_arc_um)) /
                   pitch_um;
  return u < kSharp_px ? 0 : u < kFair_px ? 1 : 2;
}

class Map {
 public:
  Map(const SectionResult& result, DisplayList& list) : result_(result), list_(list) {}

  void Add(const TracedContour& contour, const std::string& feature) {
    const std::vector<ContourVertex>& v = contour.vertices;
    const std::size_t n = v.size();
    if (n < 3) return;
    std::vector<std::size_t> kind;
    for (const ContourVertex& vertex : v)
      kind.push_back(ClassOf(contour, vertex, result_.mean_pitch_um));
    std::size_t start = 0;
    while (start < n && kind[start] == kind[(start + n - 1) % n]) ++start;
    start %= n;  // all alike: one run around
    std::array<double, kClasses.size()> length{};
    for (std::size_t done = 0; done < n;) {
      const std::size_t first = (start + done) % n;
      std::size_t run = 0;
      ContourUm points;
      while (done + run < n && kind[(first + run) % n] == kind[first]) {
        points.push_back(v[(first + run) % n].at);
        ++run;
      }
      points.push_back(v[(first + run) % n].at);
      done += run;
      if (kind[first] == kNone) continue;
      for (std::size_t i = 1; i < points.size(); ++i)
        length[kind[first]] += Distance(points[i - 1], points[i]);
      Stretch(kClasses[kind[first]], std::move(points), feature);
    }
    Tell(contour, feature, length);
  }

 private:
  void Stretch(const EdgeClass& edge, ContourUm points, const std::string& feature) {
    DisplayItem item;
    item.kind = DisplayItem::Kind::kPath;
    item.ink = edge.ink;
    item.style = edge.style;
    item.weight = edge.weight;
    item.points = std::move(points);
    item.feature = feature;
    item.text = edge.word;
    item.key = edge.word;
    list_.items.push_back(std::move(item));
  }
  void Tell(const TracedContour& contour, const std::string& feature,
            const std::array<double, kClasses.size()>& length) {
    double all = 0;
    for (const double l : length) all += l;
    if (!(all > 0)) return;
    std::string line;
    for (std::size_t k = 0; k < length.size(); ++k) {
      const double percent = 100 * length[k] / all;
      if (percent < 0.5) continue;
      line += fmt::format("{}{:.0f} % {}", line.empty() ? "" : ", ", percent, kClasses[k].word);
    }
    if (!contour.edge_model.empty())
      line += fmt::format("; {}, blur {:.1f} px", contour.edge_model, contour.edge_blur_px);
    if (!contour.doubt.empty()) line += "; " + contour.doubt;
    list_.caption.push_back(feature + "\t" + line);
  }

  const SectionResult& result_;
  DisplayList& list_;
};

}  // namespace

DisplayList BuildEdgeMap(const SectionResult& result) {
  DisplayList list;
  list.verdict = result.verdict;
  AddIdentities(result, list.caption);
  list.caption.emplace_back();
  list.caption.emplace_back("Edges, by share of their length:");
  Map map(result, list);
  const Section& section = result.section;
  if (section.outline) map.Add(*section.outline, "outline");
  for (const RingTrace& ring : section.rings) map.Add(ring.inner, ring.name);
  for (const LinerTrace& liner : section.liners) map.Add(liner.outer, liner.lumen + "/liner");
  for (const LumenTrace& lumen : section.lumens) map.Add(lumen.bore, lumen.Key());
  for (const Void& v : section.voids) map.Add(v.contour, "void " + std::to_string(v.no));
  // The key shows the classes in their order, whichever contour has them first.
  std::stable_sort(
      list.items.begin(), list.items.end(), [](const DisplayItem& a, const DisplayItem& b) {
        const auto rank = [](const DisplayItem& item) {
          return std::find_if(kClasses.begin(), kClasses.end(),
                              [&](const EdgeClass& c) { return item.text == c.word; }) -
                 kClasses.begin();
        };
        return rank(a) < rank(b);
      });
  AddLumenNames(result, list);
  return list;
}

}  // namespace cutface
