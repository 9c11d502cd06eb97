// A mandrel left in a bore: its own edge is never taken for the bore's.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;

TEST(Mandrel, ThinnerThanItsBoreIsNotMeasuredAsTheBore) {
  auto design = ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
  ASSERT_THAT(design, IsOk());
  const SectionDesign* plane = design->FindSection("extrusion");
  ASSERT_NE(plane, nullptr);
  PhantomOrder order;
  order.light = PhantomLight::kTransmitted;
  auto face = DrawPhantomOfDesign(*design, "extrusion", order, 3);
  ASSERT_THAT(face, IsOk());
  PhantomScene scene = face->scene;
  PhantomLumen* scope = nullptr;
  for (PhantomLumen& lumen : scene.lumens) {
    if (lumen.names.front() == "scope") scope = &lumen;
  }
  ASSERT_NE(scope, nullptr);
  // Potting crept in about it, brighter than the body and darker than the open bores.
  scope->tone = scene.body_tone + 0.15;
  const PointPx centre = Centroid<FramePx>(scope->contour);
  const double radius = std::sqrt(Area<FramePx>(scope->contour) / M_PI);
  PhantomMetal mandrel{{}, 0.01};
  for (int k = 0; k < 360; ++k) {
    const double angle = k * M_PI / 180;
    mandrel.contour.push_back(centre + 0.84 * radius * PointPx{std::cos(angle), std::sin(angle)} +
                              PointPx{4, -3});
  }
  scene.metals.push_back(mandrel);
  CalibrationRecord record;
  record.id = "test";
  const auto result =
      Inspect(MicrographFromPixels(RenderPhantom(scene, face->picture_seed), scene.bits, "m.png"),
              record, Scale::Isotropic(order.pitch_um), *design, *plane, {});
  ASSERT_THAT(result, IsOk());
  int looked = 0;
  for (const Measurement& m : result->measurements) {
    if (m.quantity != "equivalent_diameter" || m.of == std::vector<std::string>{"outline"})
      continue;
    ++looked;
    if (m.of == std::vector<std::string>{"scope"}) {
      EXPECT_EQ(m.state, Measurement::State::kNotMeasured);
      EXPECT_THAT(m.reason, HasSubstr("something in the bore"));
    } else {
      EXPECT_EQ(m.state, Measurement::State::kMeasured) << m.of.front();
    }
  }
  EXPECT_EQ(looked, 4);
}

}  // namespace
}  // namespace cutface
