#include "gui/state/tiles.h"

#include <gtest/gtest.h>

#include <map>
#include <opencv2/core.hpp>

#include "support/matchers.h"

namespace cutface::window {
namespace {

class MemoryStore final : public TextureStore {
 public:
  Id Create(int width, int height, const std::uint32_t* rgba) override {
    held[++last] = {width, height, rgba[0]};
    most = std::max(most, held.size());
    return last;
  }
  void Destroy(Id id) override { EXPECT_EQ(held.erase(id), 1u); }
  struct Texture {
    int width, height;
    std::uint32_t first;
  };
  std::map<Id, Texture> held;
  Id last = 0;
  std::size_t most = 0;
};

std::shared_ptr<const TilePyramid> Pyramid(int width, int height, int type = CV_8UC1,
                                           double value = 100, int bits = 8) {
  const Micrograph m =
      MicrographFromPixels(cv::Mat(height, width, type, cv::Scalar(value)), bits, "flat.png");
  auto pyramid = TilePyramid::Build(m);
  EXPECT_THAT(pyramid, IsOk());
  return std::make_shared<const TilePyramid>(std::move(*pyramid));
}

TEST(TilePyramid, EndsInASingleTile) {
  const auto pyramid = Pyramid(5000, 3000);
  const int last = pyramid->levels() - 1;
  EXPECT_EQ(pyramid->TilesAcross(last), 1);
  EXPECT_EQ(pyramid->TilesDown(last), 1);
  EXPECT_EQ(pyramid->TilesAcross(0), 10);
}

TEST(TilePyramid, CornersOfAllTilesCoverThePictureAndNoMore) {
  const auto pyramid = Pyramid(1301, 777);  // odd on purpose
  for (int level = 0; level < pyramid->levels(); ++level) {
    double area = 0;
    for (int y = 0; y < pyramid->TilesDown(level); ++y) {
      for (int x = 0; x < pyramid->TilesAcross(level); ++x) {
        const auto c = pyramid->Corners({level, x, y});
        area += (c[2].x - c[0].x) * (c[2].y - c[0].y);
      }
    }
    EXPECT_NEAR(area, 1301.0 * 777.0, 1e-6) << level;
  }
}

TEST(TilePyramid, NoLevelIsCoarserThanTheScreen) {
  const auto pyramid = Pyramid(6000, 4000);
  EXPECT_EQ(pyramid->LevelFor(1), 0);
  EXPECT_EQ(pyramid->LevelFor(0.51), 0);
  EXPECT_EQ(pyramid->LevelFor(0.5), 1);
  EXPECT_EQ(pyramid->LevelFor(0.13), 2);
  EXPECT_EQ(pyramid->LevelFor(1e-6), pyramid->levels() - 1);
}

TEST(TilePyramid, WhatTheViewShowsIsNeeded) {
  const auto pyramid = Pyramid(4096, 4096);
  CanvasTransform view;
  view.SetView({0, 0, 512, 512});
  view.CentreOn({1024, 1024}, 1);
  EXPECT_EQ(pyramid->Needed(view).size(), 4u);  // 768 .. 1280: tiles 1 and 2 both ways
  view.CentreOn({-5000, -5000}, 1);
  EXPECT_TRUE(pyramid->Needed(view).empty());
}

TEST(TilePyramid, TonesOf12BitsAreStretchedByTheRange) {
  // 1024 of 4095 lies a quarter of the way; with black 0.2 and white 0.3 halfway.
  const auto pyramid = Pyramid(64, 64, CV_16UC1, 1024, 12);
  EXPECT_EQ(pyramid->Make({0, 0, 0}, {0, 1}).rgba[0] & 0xff, 64u);
  EXPECT_EQ(pyramid->Make({0, 0, 0}, {0.2, 0.3}).rgba[0] & 0xff, 128u);
  EXPECT_EQ(pyramid->Make({0, 0, 0}, {0.3, 0.4}).rgba[0] & 0xff, 0u);
}

TEST(TileCache, MakesNoMoreThanItsBudgetAndFillsUpOverFrames) {
  MemoryStore store;
  {
    TileCache cache(store);
    cache.Show(Pyramid(4096, 4096));
    CanvasTransform view;
    view.SetView({0, 0, 2000, 2000});
    view.CentreOn({2048, 2048}, 1);
    EXPECT_FALSE(cache.Update(view, 6));
    EXPECT_LE(store.held.size(), 7u);  // and the one that is always there
    EXPECT_FALSE(cache.quads().empty());
    int frames = 1;
    while (!cache.Update(view, 6)) ASSERT_LT(++frames, 20);
    EXPECT_EQ(cache.quads().size(), 16u);
  }
  EXPECT_TRUE(store.held.empty());  // nothing is left behind
}

TEST(TileCache, StaysBoundedHoweverFarOneMoves) {
  MemoryStore store;
  TileCache cache(store, 20);
  cache.Show(Pyramid(8192, 8192));
  CanvasTransform view;
  view.SetView({0, 0, 900, 900});
  for (int x = 0; x < 8000; x += 200) {
    view.CentreOn({1.0 * x, 4000}, 1);
    while (!cache.Update(view, 4)) {
    }
  }
  EXPECT_LE(store.held.size(), 20u);
  EXPECT_LE(store.most, 26u);
}

TEST(TileCache, AnotherRangeMakesNewTiles) {
  MemoryStore store;
  TileCache cache(store);
  cache.Show(Pyramid(64, 64));
  CanvasTransform view;
  cache.Update(view, 4);
  const auto before = store.last;
  cache.SetRange({0.1, 0.5});
  cache.Update(view, 4);
  EXPECT_GT(store.last, before);
}

}  // namespace
}  // namespace cutface::window
