// The picture in tiles at several sizes, so that a large one moves as smoothly as a small one.
//
// Level 0 is the picture as stored (its pixels are shared, not copied), every further level half as
// wide (means of 2 x 2). The last level fits into one tile. Tones become grey at the moment a tile
// is made, so that the display range of 16-bit pictures can change without touching the levels.
// Keywords: tile, pyramid, level, display range, 16 bit, texture.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <tuple>
#include <vector>

#include "cutface/base.h"
#include "cutface/micrograph.h"
#include "gui/state/canvas_transform.h"

namespace cutface::window {

// Tones that become black and white, as shares of full scale.
struct DisplayRange {
  double black = 0, white = 1;
  bool operator==(const DisplayRange&) const = default;
};

struct TileKey {
  int level = 0, x = 0, y = 0;
  auto operator<=>(const TileKey&) const = default;
};

class TilePyramid {
 public:
  static constexpr int kTile = 512;

  // Errors: kCancelled.
  static Result<TilePyramid> Build(const Micrograph& picture, const Progress& progress = {});

  int levels() const { return static_cast<int>(levels_.size()); }
  int width() const { return levels_.front().cols; }
  int height() const { return levels_.front().rows; }
  int TilesAcross(int level) const { return (levels_[At(level)].cols + kTile - 1) / kTile; }
  int TilesDown(int level) const { return (levels_[At(level)].rows + kTile - 1) / kTile; }

  // Grey RGBA pixels of one tile; those at the right and lower border are smaller.
  struct Pixels {
    int width = 0, height = 0;
    std::vector<std::uint32_t> rgba;
  };
  Pixels Make(const TileKey& key, const DisplayRange& range) const;
  // Corners in pixels of the picture (pixel centres are whole numbers), in order round.
  std::array<PointPx, 4> Corners(const TileKey& key) const;

  // The level whose pixels are nearest to the screen's, and not coarser than them.
  int LevelFor(double zoom) const;
  // Tiles of that level that the view shows.
  std::vector<TileKey> Needed(const CanvasTransform& transform) const;

  // Tones between which all but a thousandth of the picture's lie.
  DisplayRange FullContrast() const;
  // A small square grey picture of the box, for the tray.
  cv::Mat Thumbnail(const Box<FramePx>& box, int size_px, const DisplayRange& range) const;
  double full_scale() const { return full_scale_; }

 private:
  static std::size_t At(int level) { return static_cast<std::size_t>(level); }
  std::vector<cv::Mat> levels_;  // CV_8UC1 or CV_16UC1
  double full_scale_ = 255;
};

// What holds pictures for drawing: OpenGL in the program, memory in tests.
class TextureStore {
 public:
  using Id = std::uintptr_t;  // never 0
  virtual ~TextureStore() = default;
  virtual Id Create(int width, int height, const std::uint32_t* rgba) = 0;
  virtual void Destroy(Id id) = 0;
};

struct TileQuad {
  TextureStore::Id texture = 0;
  std::array<ScreenPoint, 4> corners;
};

// Tiles that are ready to be drawn. Bounded: those longest unused go first.
class TileCache {
 public:
  explicit TileCache(TextureStore& store, std::size_t most = 160) : store_(store), most_(most) {}
  ~TileCache() { Clear(); }
  TileCache(const TileCache&) = delete;
  TileCache& operator=(const TileCache&) = delete;

  void Show(std::shared_ptr<const TilePyramid> pyramid);
  void SetRange(const DisplayRange& range);
  // Makes at most `budget` tiles that the view lacks; true when none is lacking.
  bool Update(const CanvasTransform& transform, int budget);
  // Coarse first: what is not there yet shows through from the level above.
  const std::vector<TileQuad>& quads() const { return quads_; }
  std::size_t size() const { return tiles_.size(); }
  void Clear();

 private:
  struct Held {
    TextureStore::Id texture = 0;
    std::uint64_t used = 0;
  };
  bool Hold(const TileKey& key, int& budget);
  void Trim();

  TextureStore& store_;
  std::size_t most_;
  std::shared_ptr<const TilePyramid> pyramid_;
  DisplayRange range_;
  std::map<TileKey, Held> tiles_;
  std::vector<TileQuad> quads_;
  std::uint64_t now_ = 0;
};

}  // namespace cutface::window
