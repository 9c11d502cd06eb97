#include "cli/face.h"

#include <fmt/format.h>

#include "cutface/picture.h"

namespace cutface {
namespace {

Result<Drawn> Draw(const Call& call, const Micrograph& micrograph, const Scale& scale,
                   const SectionResult& result) {
  Drawn drawn;
  auto png = RenderPng(micrograph, scale, result);
  if (!png) return tl::unexpected(png.error());
  drawn.png = std::move(*png);
  if (call.svg) {
    auto svg = RenderSvg(micrograph, scale, result);
    if (!svg) return tl::unexpected(svg.error());
    drawn.svg = std::move(*svg);
  }
  if (call.edge_map) {
    PictureOptions options;
    options.edge_map = true;
    auto edges = RenderPng(micrograph, scale, result, options);
    if (!edges) return tl::unexpected(edges.error());
    drawn.edges = std::move(*edges);
  }
  if (result.pressure) {
    PictureOptions options;
    options.pressure_map = true;
    auto pressed = RenderPng(micrograph, scale, result, options);
    if (!pressed) return tl::unexpected(pressed.error());
    drawn.pressed = std::move(*pressed);
  }
  return drawn;
}

}  // namespace

Result<FaceOutcome> MeasureFace(const FaceJob& job, const std::string& image,
                                const OutputPaths& paths) {
  const Call& call = job.call;
  const auto going = [&](double share, std::string_view what) {
    return !job.progress || job.progress(share, what);
  };
  const auto stopped = [&] { return Fail(Code::kCancelled, image + ": the run was stopped"); };
  if (!going(0, "reading")) return stopped();
  ReadOptions reading;
  reading.channel = call.channel;
  reading.max_pixels = job.max_pixels;
  auto micrograph = ReadMicrograph(image, reading);
  if (!micrograph) return tl::unexpected(micrograph.error());

  FaceOrder order;
  order.channel = call.channel;
  order.u_floor_um = call.u_floor_um;
  order.sample = job.sample;
  order.objective = job.objective;
  order.bench = job.bench;
  order.inspector = call.inspector;
  if (!job.pressures_mpa.empty()) order.loads = PressureLoads{job.pressures_mpa, call.wires_free};
  if (job.hints != nullptr) order.hints = *job.hints;
  order.correct_oblique = call.correct_oblique;
  order.accept_overdue = call.accept_overdue;
  order.accept_scale_mismatch = call.accept_scale_mismatch;
  order.require_check_h = call.require_check_h;
  order.progress = [&](double share, std::string_view what) {
    return going(0.1 + 0.8 * share, what);
  };
  auto face = MeasureFace(*micrograph, job.benches, job.design, job.plane, order, job.stages);
  if (!face) return tl::unexpected(face.error());
  if (!going(0.9, "drawing")) return stopped();
  Result<Drawn> drawn = Drawn{};
  if (job.draws) drawn = Draw(call, *micrograph, face->ready.bench.scale, face->result);
  if (!drawn) return tl::unexpected(drawn.error());
  if (auto status = WriteOutputs(paths, *drawn, face->result); !status)
    return tl::unexpected(status.error());
  return FaceOutcome{std::move(face->result), std::move(face->draft)};
}

Status TakeImageKind(const Call& call, Design& design) {
  if (call.image_kind.empty()) return {};
  if (design.method_locked && call.image_kind != design.image_kind) {
    return Fail(Code::kUsage,
                fmt::format("--image-kind {}: {} locks its method to {} pictures; leave the "
                            "option out or change the drawing",
                            call.image_kind, design.file_name, design.image_kind));
  }
  design.image_kind = call.image_kind;
  return {};
}

Status CheckPressures(const Call& call, std::span<const SectionDesign> planes) {
  for (const auto& [name, mpa] : call.pressures_mpa) {
    std::vector<std::string_view> lumens;
    bool known = false;
    for (const SectionDesign& plane : planes) {
      known = known || plane.FindLumen(name) != nullptr;
      for (const LumenDesign& lumen : plane.lumens) lumens.push_back(lumen.name);
    }
    if (known) continue;
    const std::string near = NearestWord(name, lumens);
    return Fail(Code::kUsage,
                fmt::format("--pressure {}: {} has no such lumen{}", name,
                            planes.size() == 1 ? planes.front().name : "the drawing",
                            near.empty() ? "" : fmt::format(", perhaps \"{}\"", near)));
  }
  return {};
}

std::map<std::string, double> PressuresOf(const Call& call, const SectionDesign& plane) {
  std::map<std::string, double> pressures = call.pressures_mpa;
  std::erase_if(pressures,
                [&](const auto& load) { return plane.FindLumen(load.first) == nullptr; });
  return pressures;
}

int ExitOf(Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
    case Verdict::kNotJudged:
    case Verdict::kElsewhere:
      return kExitFine;
    default:
      return kExitNotAllConform;
  }
}

}  // namespace cutface
