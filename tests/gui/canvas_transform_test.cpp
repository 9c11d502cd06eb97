#include "gui/state/canvas_transform.h"

#include <gtest/gtest.h>

#include "cutface/stats.h"

namespace cutface::window {
namespace {

CanvasTransform Anywhere(Random& random) {
  CanvasTransform t;
  t.SetView({static_cast<float>(random.Uniform(0, 500)), 40, 900, 700});
  t.CentreOn({random.Uniform(0, 6000), random.Uniform(0, 4000)}, random.Uniform(0.02, 30));
  t.TurnTo(random.Uniform(-3, 3));
  return t;
}

TEST(CanvasTransform, PlacesGoToTheScreenAndBack) {
  Random random(11);
  for (int i = 0; i < 500; ++i) {
    const CanvasTransform t = Anywhere(random);
    const ScreenPoint s{static_cast<float>(random.Uniform(0, 1400)),
                        static_cast<float>(random.Uniform(0, 900))};
    const ScreenPoint back = t.ToScreen(t.ToImage(s));
    // Screen points are floats: 1e-3 of a pixel at 1400 leaves room for their rounding.
    EXPECT_NEAR(back.x, s.x, 2e-3);
    EXPECT_NEAR(back.y, s.y, 2e-3);
  }
}

TEST(CanvasTransform, ZoomKeepsWhatIsUnderThePointer) {
  Random random(12);
  for (int i = 0; i < 300; ++i) {
    CanvasTransform t = Anywhere(random);
    const ScreenPoint at{400, 300};
    const PointPx before = t.ToImage(at);
    t.ZoomAbout(at, random.Uniform(0.4, 2.5));
    EXPECT_NEAR(Distance(t.ToImage(at), before), 0, 1e-6);
  }
}

TEST(CanvasTransform, ZoomHasLimits) {
  CanvasTransform t;
  for (int i = 0; i < 200; ++i) t.ZoomAbout({50, 50}, 2);
  EXPECT_DOUBLE_EQ(t.zoom(), CanvasTransform::kGreatestZoom);
  for (int i = 0; i < 400; ++i) t.ZoomAbout({50, 50}, 0.5);
  EXPECT_DOUBLE_EQ(t.zoom(), CanvasTransform::kLeastZoom);
}

TEST(CanvasTransform, PanMovesThePictureWithThePointer) {
  Random random(13);
  CanvasTransform t = Anywhere(random);
  const PointPx held = t.ToImage({200, 200});
  t.PanBy(37, -12);
  EXPECT_NEAR(Distance(t.ToImage({237, 188}), held), 0, 1e-6);
}

TEST(CanvasTransform, FitShowsTheWholeBoxHoweverItIsTurned) {
  for (const double turn : {0.0, 0.4, 1.57, 2.6}) {
    CanvasTransform t;
    t.SetView({100, 50, 800, 600});
    t.TurnTo(turn);
    t.Fit({{0, 0}, {4000, 1000}});
    for (const PointPx corner : {PointPx{0, 0}, {4000, 0}, {4000, 1000}, {0, 1000}})
      EXPECT_TRUE(t.view().Holds(t.ToScreen(corner))) << turn;
  }
}

}  // namespace
}  // namespace cutface::window
