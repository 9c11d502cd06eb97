#include "cutface/targets.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace cutface {
namespace {

namespace files = std::filesystem;

std::vector<std::byte> BytesOf(std::string_view text) {
  const auto view = std::as_bytes(std::span(text.data(), text.size()));
  return {view.begin(), view.end()};
}

Error NotSeenAllRound(const Micrograph& picture, TargetKind kind) {
  return {Code::kNoPattern,
          fmt::format("{}: the {}'s edge is not seen all round; picture it whole and clean",
                      picture.file_name, TargetKindName(kind))};
}

// The edge of a round target, found as a product's outline is: by the whole pipeline, in pixels.
Result<TargetFit> FindCircle(const Micrograph& picture, const TargetSpec& spec) {
  CalibrationRecord pixels;
  pixels.id = "pixels";
  pixels.image_width_px = picture.width();
  pixels.image_height_px = picture.height();
  pixels.pitch_x_um = pixels.pitch_y_um = 1;
  const Scale scale = Scale::Isotropic(1);
  auto survey = SurveySection(picture, pixels, scale);
  if (!survey) return tl::unexpected(survey.error());
  const auto& outline = survey->result.section.outline;
  if (!outline || !outline->whole) return tl::unexpected(NotSeenAllRound(picture, spec.kind));
  CircleEdge edge;
  edge.contour = scale.ToPx(outline->Points());
  edge.u_common_px = outline->u_common_um;
  double square = 0;
  for (const ContourVertex& v : outline->vertices) {
    square += v.sigma_um * v.sigma_um + v.doubt_um * v.doubt_um;
  }
  const auto places = static_cast<double>(outline->vertices.size());
  edge.u_along_px = std::hypot(outline->u_arc_um, std::sqrt(square / std::max(1.0, places)));
  const double around = Perimeter(edge.contour);
  edge.independent = std::clamp(around / std::max(1.0, outline->arc_length_um), 1.0, places);
  auto fit = FitCircleTarget(edge, picture, spec);
  if (fit && !outline->doubt.empty())
    fit->remarks.push_back("its edge is doubtful: " + outline->doubt);
  return fit;
}

}  // namespace

bool IsRound(TargetKind kind) { return kind == TargetKind::kCircle || kind == TargetKind::kPin; }

Result<TargetFit> FindTarget(const Micrograph& picture, const TargetSpec& spec) {
  if (spec.kind == TargetKind::kLineScale) return FindLineScale(picture, spec);
  if (spec.kind == TargetKind::kDotGrid || spec.kind == TargetKind::kCrossGrid) {
    return FindGrid(picture, spec);
  }
  if (spec.kind == TargetKind::kCircle) return FindCircle(picture, spec);
  return Fail(Code::kUsage,
              "a pin cannot make a record: where it was cut and polished is not certified; "
              "calibrate with a line scale, a grid or a circle, then `cutface check` with the pin");
}

Result<BenchCheck> MeasureRound(const Micrograph& picture, const TargetSpec& spec,
                                const Bench& bench, Channel channel) {
  auto light = ReadFlatField(bench.record, bench.record_path, channel);
  if (!light) return tl::unexpected(light.error());
  Result<Micrograph> even = *light ? (*light)->Apply(picture) : Result<Micrograph>(picture);
  if (!even) return tl::unexpected(even.error());
  auto survey = SurveySection(*even, bench.record, bench.scale);
  if (!survey) return tl::unexpected(survey.error());
  const auto find = [&](std::string_view word) -> const Measurement* {
    for (const Measurement& m : survey->result.measurements) {
      if (m.of == std::vector<std::string>{"outline"} && m.quantity == word &&
          m.state == Measurement::State::kMeasured) {
        return &m;
      }
    }
    return nullptr;
  };
  const Measurement* diameter = find("diameter");
  const Measurement* ovality = find("ovality");
  if (diameter == nullptr || ovality == nullptr)
    return tl::unexpected(NotSeenAllRound(picture, spec.kind));
  BenchCheck check;
  check.calibration_id = bench.record.id;
  check.calibration_sha256 = bench.record.sha256;
  check.standard_kind = TargetKindName(spec.kind);
  check.image_file = picture.file_name;
  check.image_sha256 = picture.sha256;
  check.certified_um = spec.diameter_um;
  check.certified_u_um = spec.certificate_u_um.value_or(0.0);
  check.measured_um = diameter->value;
  // A pin cut askew is an ellipse whose mean is too large by up to half the ovality (rectangular).
  check.measured_u_um = std::hypot(diameter->u, ovality->value / 2 / std::sqrt(3.0));
  return check;
}

Status TakeExposurePair(const ExposurePair& pair, Channel channel, CalibrationRecord& record,
                        std::vector<std::string>& warnings) {
  ReadOptions reading;
  reading.channel = channel;
  auto first = ReadMicrograph(pair.first, reading);
  if (!first) return tl::unexpected(first.error());
  auto second = ReadMicrograph(pair.second, reading);
  if (!second) return tl::unexpected(second.error());
  auto gamma = GammaFromExposures(*first, *second, pair.ratio);
  if (!gamma)
    return Fail(gamma.error().code, pair.first + ", " + pair.second + ": " + gamma.error().message);
  const double u = std::hypot(gamma->u, record.gamma_u.value_or(0));
  if (record.gamma && std::abs(*record.gamma - gamma->gamma) > 3 * u) {
    warnings.push_back(fmt::format(
        "gamma: the exposure pair tells {:.3g}, the target's black and white {:.3g}: was a picture "
        "setting of the camera changed between them?",
        gamma->gamma, *record.gamma));
  }
  record.gamma = gamma->gamma;
  record.gamma_u = gamma->u;
  return {};
}

Result<RecordFile> TakeBlank(const std::string& path, const std::string& base, Channel channel,
                             CalibrationRecord& record) {
  if (!record.gamma) {
    return Fail(Code::kUsage,
                fmt::format("{}: a flat field needs the camera's gamma, and the target "
                            "does not tell it; give an --exposure-pair",
                            path));
  }
  ReadOptions reading;
  reading.channel = channel;
  auto blank = ReadMicrograph(path, reading);
  if (!blank) return tl::unexpected(blank.error());
  if (blank->width() != record.image_width_px || blank->height() != record.image_height_px) {
    return Fail(
        Code::kCalibrationMismatch,
        fmt::format("{}: has another size than the target's pictures; take the blank in the "
                    "same camera mode",
                    path));
  }
  if (auto field = FlatField::FromBlank(*blank, *record.gamma); !field)
    return tl::unexpected(field.error());
  auto bytes = ReadFile(path);
  if (!bytes) return tl::unexpected(bytes.error());
  const std::string kept = base + ".blank" + files::path(path).extension().string();
  record.flat_field_image = files::path(kept).filename().string();
  record.flat_field_sha256 = Sha256Hex(*bytes);
  return RecordFile{kept, std::move(*bytes)};
}

Result<std::vector<RecordFile>> ResidualPlots(std::span<const TargetFit> fits,
                                              const CalibrationRecord& record,
                                              const std::string& base) {
  const double pitch = record.pitch_x_um.value_or(record.pitch_y_um.value_or(1));
  auto plot = PlotResiduals(fits, pitch);
  if (!plot) return tl::unexpected(plot.error());
  std::vector<RecordFile> drawn;
  drawn.push_back({base + ".residuals.png", std::move(plot->png)});
  drawn.push_back({base + ".residuals.svg", BytesOf(plot->svg)});
  return drawn;
}

Status KeepWithFiles(const std::vector<RecordFile>& beside, const std::string& path,
                     const CalibrationRecord& record) {
  std::error_code ignored;
  for (const RecordFile& file : beside) {
    if (!files::exists(file.path, ignored)) continue;
    return Fail(Code::kUsage, fmt::format("{}: is there already; evidence is never overwritten, "
                                          "name another record",
                                          file.path));
  }
  Status status;
  std::size_t written = 0;
  for (; status && written < beside.size(); ++written)
    status = WriteWhole(beside[written].path, beside[written].bytes);
  if (status) status = KeepRecord(path, record);
  if (!status) {
    for (std::size_t k = 0; k < written; ++k) files::remove(beside[k].path, ignored);
  }
  return status;
}

Result<std::vector<std::string>> DrawDrift(std::span<const BenchCheck> log, const std::string& id,
                                           const std::string& log_path) {
  std::string name = id;
  std::replace(name.begin(), name.end(), '/', '-');
  const files::path base = files::path(log_path).parent_path() / name;
  const std::string png = base.string() + ".drift.png", svg = base.string() + ".drift.svg";
  std::error_code ignored;
  if (files::exists(png, ignored)) {
    auto bytes = ReadFile(png);
    if (!bytes || !IsMarkedPicture(*bytes)) {
      return Fail(Code::kUsage,
                  fmt::format("{}: is there already and was not drawn by this program; "
                              "move it",
                              png));
    }
  }
  auto plot = PlotDrift(log, id);
  if (!plot) return tl::unexpected(plot.error());
  if (auto status = WriteWhole(png, MarkedPicture(plot->png, CUTFACE_VERSION)); !status)
    return tl::unexpected(status.error());
  if (auto status = WriteWhole(svg, plot->svg); !status) return tl::unexpected(status.error());
  return std::vector<std::string>{png, svg};
}

}  // namespace cutface
