// A hand-made result over a painted photo: what the picture room is looked at and tested with. The
// geometry is typed in here; nothing of it was measured.
#pragma once

#include <cmath>
#include <functional>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface::sample {

constexpr double kPitchUm = 2.5;
constexpr PointUm kCentre{2010, 1480};

inline TracedContour Traced(const ContourUm& points) {
  TracedContour contour;
  for (const PointUm& p : points) {
    ContourVertex vertex;
    vertex.at = p;
    contour.vertices.push_back(vertex);
  }
  return contour;
}

// Closed curve about `centre` (from the face's centre): r(angle).
inline ContourUm Around(PointUm centre, const std::function<double(double)>& radius, int n = 360) {
  ContourUm points;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * std::numbers::pi * i / n;
    points.push_back(kCentre + centre + radius(t) * PointUm{std::cos(t), std::sin(t)});
  }
  return points;
}

inline ContourUm Round(PointUm centre, double r) {
  return Around(centre, [r](double) { return r; });
}

// A piece of a ring between two angles (degrees, from +x towards +y), corners rounded by sampling.
inline ContourUm RingPiece(double r0, double r1, double from_deg, double to_deg) {
  ContourUm points;
  const auto at = [&](double r, double deg) {
    const double t = deg * std::numbers::pi / 180;
    points.push_back(kCentre + r * PointUm{std::cos(t), std::sin(t)});
  };
  for (int i = 0; i <= 90; ++i) at(r1, from_deg + (to_deg - from_deg) * i / 90.0);
  for (int i = 90; i >= 0; --i) at(r0, from_deg + (to_deg - from_deg) * i / 90.0);
  return points;
}

struct Look {
  int body = 150, lumen = 30, ground = 70;
};

inline cv::Mat Paint(const SectionResult& result, const Look& look, int width = 1600,
                     int height = 1200) {
  cv::Mat image(height, width, CV_8U, cv::Scalar(look.ground));
  const auto fill = [&](const TracedContour& contour, int tone) {
    std::vector<cv::Point> polygon;
    for (const ContourVertex& v : contour.vertices) {
      polygon.emplace_back(cvRound(v.at.x / kPitchUm), cvRound(v.at.y / kPitchUm));
    }
    if (polygon.size() > 2) cv::fillPoly(image, std::vector{polygon}, cv::Scalar(tone));
  };
  if (result.section.outline) fill(*result.section.outline, look.body);
  for (const RingTrace& ring : result.section.rings) fill(ring.inner, look.body - 18);
  for (const LumenTrace& lumen : result.section.lumens) fill(lumen.bore, look.lumen);
  for (const Void& v : result.section.voids) fill(v.contour, look.lumen + 10);
  cv::GaussianBlur(image, image, {}, 1.6);
  cv::Mat noise(image.size(), CV_16S), sum;
  cv::RNG random(7);
  random.fill(noise, cv::RNG::NORMAL, 0, 4);
  cv::add(image, noise, sum, cv::noArray(), CV_8U);
  return sum;
}

inline LumenTrace Lumen(const std::string& name, const ContourUm& points) {
  LumenTrace lumen;
  lumen.names = {name};
  lumen.bore = Traced(points);
  return lumen;
}

inline Measurement Length(std::vector<std::string> of, const std::string& quantity, double value,
                          PointUm a, PointUm b) {
  Measurement m;
  m.of = std::move(of);
  m.quantity = quantity;
  m.value = m.raw = value;
  m.u = 0.9;
  m.lo = value - 1.8;
  m.hi = value + 1.8;
  m.unit = "um";
  m.at = {a, b};
  return m;
}

inline CharacteristicResult Row(const std::string& no, std::vector<std::string> of,
                                const std::string& quantity, double actual, double min,
                                Verdict verdict) {
  CharacteristicResult row;
  row.no = no;
  row.of = std::move(of);
  row.quantity = quantity;
  row.unit = "mm";
  row.actual = actual;
  row.lo = actual - 0.0018;
  row.hi = actual + 0.0018;
  row.min = min;
  row.verdict = verdict;
  row.criticality = "critical";
  row.p_conform = verdict == Verdict::kConforms ? 0.9995 : 0.3;
  return row;
}

// Nearest places of two contours, found the slow way.
inline Segment<FrameUm> Nearest(const ContourUm& a, const ContourUm& b) {
  Segment<FrameUm> best{a[0], b[0]};
  for (const PointUm& p : a) {
    for (const PointUm& q : b) {
      if (Distance(p, q) < Distance(best.a, best.b)) best = {p, q};
    }
  }
  return best;
}

inline void AddIdentity(SectionResult& r) {
  r.software = "0.1.0";
  r.time = "2026-03-14T10:22:41Z";
  r.inspector = "inspector 2";
  r.sample.serial = "B-07";
  r.sample.lot = "25-118";
  r.sample.block = "K12";
  r.sample.face = "proximal";
  r.sample.station_mm = 400;
  r.sample.taken = "2026-03-14T09:58:00";
  r.image_file = "LV-7504_B-07_shaft-mid.png";
  r.image_sha256 = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08";
  r.image_width_px = 1600;
  r.image_height_px = 1200;
  r.calibration_id = "bench2-5x-2026-03";
  r.part = "LV-7504";
  r.revision = "C";
  r.section_name = "shaft-mid";
  r.mean_pitch_um = kPitchUm;
}

inline void AddWidths(SectionResult& r) {
  const auto& lumens = r.section.lumens;
  const ContourUm outline = r.section.outline->Points();
  for (std::size_t i = 0; i < lumens.size(); ++i) {
    const ContourUm bore = lumens[i].bore.Points();
    const auto wall = Nearest(bore, outline);
    r.measurements.push_back(
        Length({lumens[i].names[0]}, "wall", Distance(wall.a, wall.b), wall.a, wall.b));
    for (std::size_t j = i + 1; j < lumens.size(); ++j) {
      const auto septum = Nearest(bore, lumens[j].bore.Points());
      r.measurements.push_back(Length({lumens[i].names[0], lumens[j].names[0]}, "septum",
                                      Distance(septum.a, septum.b), septum.a, septum.b));
    }
  }
}

// The four-lumen shaft of the demo part with a thin septum, a void in it and a squashed lumen.
inline SectionResult FourLumens() {
  SectionResult r;
  AddIdentity(r);
  r.section.outline = Traced(Around({0, 0}, [](double t) { return 1250 + 8 * std::cos(2 * t); }));
  r.section.rings.push_back({"jacket", Traced(Round({0, 0}, 1040))});
  r.section.lumens = {
      Lumen("scope", Round({0, -470}, 475)),
      Lumen("wash", RingPiece(250, 880, 108, 168)),
      Lumen("return", RingPiece(250, 880, 14, 72)),
      Lumen("cuff", Around({0, 560}, [](double t) { return 95 - 25 * std::cos(2 * t); })),
  };
  r.section.placement.centre_px = {kCentre.x / kPitchUm, kCentre.y / kPitchUm};
  r.section.placement.rotation_rad = 0.06;
  Void v;
  v.no = 1;
  v.contour = Traced(Around(
      {-230, 70}, [](double t) { return 16 + 4 * std::cos(3 * t); }, 40));
  v.centroid = kCentre + PointUm{-230, 70};
  v.area_um2 = 810;
  r.section.voids.push_back(v);
  AddWidths(r);
  const auto find = [&](const std::string& a, const std::string& b) -> const Measurement& {
    for (const Measurement& m : r.measurements) {
      if (m.quantity == "septum" && m.of[0] == a && m.of[1] == b) return m;
    }
    return r.measurements.front();
  };
  r.characteristics = {Row("1", {"outline"}, "diameter", 2.5012, 2.45, Verdict::kConforms),
                       Row("4", {"scope"}, "wall", 0.305, 0.25, Verdict::kConforms),
                       Row("7", {"wash", "scope"}, "septum", find("scope", "wash").value / 1000,
                           0.1, Verdict::kDoesNotConform),
                       Row("8", {"scope", "return"}, "septum", find("scope", "return").value / 1000,
                           0.1, Verdict::kNotProven),
                       Row("9", {"voids"}, "longest", 0.0402, 0.0, Verdict::kConforms)};
  r.characteristics[0].max = 2.55;
  r.characteristics[4].min.reset();
  r.characteristics[4].max = 0.06;
  Finding thin;
  thin.kind = "thin septum";
  thin.where = {"scope", "wash"};
  thin.severity = Severity::kHigh;
  thin.text = "septum scope, wash is below its limit of 0.1 mm";
  thin.at = find("scope", "wash").at;
  Finding collapsed;
  collapsed.kind = "collapsed lumen";
  collapsed.where = {"cuff"};
  collapsed.text = "cuff carries 0.61 of its nominal flow";
  r.findings = {thin, collapsed};
  r.warnings = {"the time of taking is unknown; the calibration's due date was not compared"};
  r.verdict = Verdict::kDoesNotConform;
  return r;
}

}  // namespace cutface::sample
