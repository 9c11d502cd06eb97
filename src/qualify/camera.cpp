// What the site's pictures are like.
#include <fmt/format.h>

#include <cmath>

#include "cutface/inspect.h"
#include "cutface/segment.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

constexpr double kWeakContrast = 0.16;  // of full scale; phantoms of weak light have 0.08 to 0.15

// From the holes' tone against the body's.
PhantomLight LightOf(const FaceProposal& face, double contrast) {
  if (face.main_step > 0) return PhantomLight::kTransmitted;
  return std::abs(contrast) < kWeakContrast ? PhantomLight::kWeak : PhantomLight::kReflected;
}

}  // namespace

SiteCamera CameraOfRecord(const CalibrationRecord& record, const Scale& scale) {
  SiteCamera camera;
  camera.width_px = record.image_width_px;
  camera.height_px = record.image_height_px;
  camera.pitch_um = scale.mean_pitch_um();
  camera.u_pitch = std::hypot(scale.u_relative_x(), scale.u_relative_y()) / std::sqrt(2.0);
  if (camera.u_pitch <= 0)
    camera.assumed.push_back(
        "the record states no uncertainty of the pitch: the scale is taken as "
        "exact");
  if (record.blur_px) {
    camera.blur_px = *record.blur_px;
  } else {
    camera.assumed.push_back(fmt::format("blur {:g} px", camera.blur_px));
  }
  if (record.gamma) {
    camera.gamma = *record.gamma;
  } else {
    camera.assumed.push_back(fmt::format("gamma {:g}", camera.gamma));
  }
  camera.assumed.push_back(fmt::format("noise {:g} of full scale", camera.noise));
  camera.assumed.push_back("reflected light, tones as drawn, clean pictures");
  return camera;
}

Result<SiteCamera> CameraOfImage(const Micrograph& image, const CalibrationRecord& record,
                                 const Scale& scale, const Design& design,
                                 const SectionDesign& plane) {
  const auto result = Inspect(image, record, scale, design, plane);
  if (!result) return tl::unexpected(result.error());
  const auto face = ProposeFace(image);
  if (!face) return tl::unexpected(face.error());
  const PictureQuality& picture = result->section.picture;
  SiteCamera camera = CameraOfRecord(record, scale);
  camera.assumed.clear();
  if (camera.u_pitch <= 0)
    camera.assumed.push_back(
        "the record states no uncertainty of the pitch: the scale is taken as "
        "exact");
  camera.image = image.file_name;
  camera.width_px = image.width();
  camera.height_px = image.height();
  camera.blur_px = picture.blur_px;
  camera.noise = picture.noise;
  camera.gamma = record.gamma.value_or(picture.gamma);
  camera.light = LightOf(*face, picture.contrast);
  camera.look = LookOf(image, scale, result->section, camera.gamma);
  return camera;
}

}  // namespace cutface
