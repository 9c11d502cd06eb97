#include "gui/state/tiles.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace cutface::window {
namespace {

// Of a whole picture, a sample of its tones is enough for a histogram.
constexpr int kMostSampled = 1'000'000;
constexpr double kLeftOut = 0.0005;  // at each end

std::uint32_t Grey(double share) {
  const auto v = static_cast<std::uint32_t>(std::lround(255 * std::clamp(share, 0.0, 1.0)));
  return 0xff000000u | v << 16 | v << 8 | v;
}

}  // namespace

Result<TilePyramid> TilePyramid::Build(const Micrograph& picture, const Progress& progress) {
  TilePyramid pyramid;
  pyramid.full_scale_ = picture.bits <= 8 ? 255.0 : picture.full_scale();
  pyramid.levels_.push_back(picture.tone);
  while (pyramid.levels_.back().cols > kTile || pyramid.levels_.back().rows > kTile) {
    if (progress && !progress(0.5, "making the picture ready"))
      return Fail(Code::kCancelled, "stopped by request");
    const cv::Mat& above = pyramid.levels_.back();
    cv::Mat half;
    const cv::Size size(std::max(1, (above.cols + 1) / 2), std::max(1, (above.rows + 1) / 2));
    cv::resize(above, half, size, 0, 0, cv::INTER_AREA);
    pyramid.levels_.push_back(half);
  }
  return pyramid;
}

TilePyramid::Pixels TilePyramid::Make(const TileKey& key, const DisplayRange& range) const {
  const cv::Mat& level = levels_[At(key.level)];
  const int x0 = key.x * kTile, y0 = key.y * kTile;
  Pixels out;
  out.width = std::min(kTile, level.cols - x0);
  out.height = std::min(kTile, level.rows - y0);
  out.rgba.reserve(static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height));
  const double span = std::max(1e-6, range.white - range.black);
  const int tones = level.depth() == CV_8U ? 256 : 65536;
  std::vector<std::uint32_t> table(static_cast<std::size_t>(tones));
  for (int t = 0; t < tones; ++t)
    table[static_cast<std::size_t>(t)] = Grey((t / full_scale_ - range.black) / span);
  for (int y = 0; y < out.height; ++y) {
    if (level.depth() == CV_8U) {
      const std::uint8_t* row = level.ptr<std::uint8_t>(y0 + y) + x0;
      for (int x = 0; x < out.width; ++x) out.rgba.push_back(table[row[x]]);
    } else {
      const std::uint16_t* row = level.ptr<std::uint16_t>(y0 + y) + x0;
      for (int x = 0; x < out.width; ++x) out.rgba.push_back(table[row[x]]);
    }
  }
  return out;
}

std::array<PointPx, 4> TilePyramid::Corners(const TileKey& key) const {
  const cv::Mat& level = levels_[At(key.level)];
  // A level's pixel is a little less than 2^level wide where sizes were odd.
  const double sx = static_cast<double>(width()) / level.cols;
  const double sy = static_cast<double>(height()) / level.rows;
  const double left = key.x * kTile * sx - 0.5, top = key.y * kTile * sy - 0.5;
  const double right = std::min(level.cols, (key.x + 1) * kTile) * sx - 0.5;
  const double bottom = std::min(level.rows, (key.y + 1) * kTile) * sy - 0.5;
  return {PointPx{left, top}, PointPx{right, top}, PointPx{right, bottom}, PointPx{left, bottom}};
}

int TilePyramid::LevelFor(double zoom) const {
  int level = 0;
  while (level + 1 < levels() && zoom * (2 << level) <= 1) ++level;
  return level;
}

std::vector<TileKey> TilePyramid::Needed(const CanvasTransform& transform) const {
  const int level = LevelFor(transform.zoom());
  const cv::Mat& pixels = levels_[At(level)];
  const double sx = static_cast<double>(width()) / pixels.cols * kTile;
  const double sy = static_cast<double>(height()) / pixels.rows * kTile;
  double left = 1e300, right = -1e300, top = 1e300, bottom = -1e300;
  for (const PointPx p : transform.Shown()) {
    left = std::min(left, p.x);
    right = std::max(right, p.x);
    top = std::min(top, p.y);
    bottom = std::max(bottom, p.y);
  }
  const auto tile = [](double v, double step, int count) {
    return static_cast<int>(std::clamp(std::floor((v + 0.5) / step), -1.0, 1.0 * count));
  };
  const int across = TilesAcross(level), down = TilesDown(level);
  std::vector<TileKey> needed;
  for (int y = std::max(0, tile(top, sy, down)); y <= std::min(down - 1, tile(bottom, sy, down));
       ++y) {
    for (int x = std::max(0, tile(left, sx, across));
         x <= std::min(across - 1, tile(right, sx, across)); ++x)
      needed.push_back({level, x, y});
  }
  return needed;
}

DisplayRange TilePyramid::FullContrast() const {
  std::size_t level = 0;
  while (level + 1 < levels_.size() && levels_[level].total() > kMostSampled) ++level;
  const cv::Mat& pixels = levels_[level];
  std::vector<std::size_t> counts(65536, 0);
  for (int y = 0; y < pixels.rows; ++y) {
    for (int x = 0; x < pixels.cols; ++x)
      ++counts[pixels.depth() == CV_8U ? pixels.ptr<std::uint8_t>(y)[x]
                                       : pixels.ptr<std::uint16_t>(y)[x]];
  }
  const double total = static_cast<double>(pixels.total());
  const auto reach = [&](double share) {
    double sum = 0;
    for (std::size_t t = 0; t < counts.size(); ++t) {
      sum += static_cast<double>(counts[t]);
      if (sum >= share * total) return static_cast<double>(t) / full_scale_;
    }
    return 1.0;
  };
  DisplayRange range{reach(kLeftOut), reach(1 - kLeftOut)};
  if (!(range.white - range.black > 4 / full_scale_)) range = {0, 1};
  return range;
}

cv::Mat TilePyramid::Thumbnail(const Box<FramePx>& box, int size_px,
                               const DisplayRange& range) const {
  const PointPx size = box.greatest - box.least;
  const double edge = std::max({size.x, size.y, 8.0});
  const double scale = size_px / edge;
  const cv::Mat& level = levels_[At(LevelFor(scale))];
  const double sx = static_cast<double>(level.cols) / width();
  const double sy = static_cast<double>(level.rows) / height();
  const PointPx middle = box.least + 0.5 * size;
  cv::Mat out(size_px, size_px, CV_8UC1);
  const double span = std::max(1e-6, range.white - range.black);
  for (int y = 0; y < size_px; ++y) {
    for (int x = 0; x < size_px; ++x) {
      const int u = static_cast<int>(sx * (middle.x + (x - 0.5 * size_px) / scale));
      const int v = static_cast<int>(sy * (middle.y + (y - 0.5 * size_px) / scale));
      const int cu = std::clamp(u, 0, level.cols - 1), cv_ = std::clamp(v, 0, level.rows - 1);
      const double tone = level.depth() == CV_8U ? level.ptr<std::uint8_t>(cv_)[cu]
                                                 : level.ptr<std::uint16_t>(cv_)[cu];
      out.ptr<std::uint8_t>(y)[x] =
          static_cast<std::uint8_t>(Grey((tone / full_scale_ - range.black) / span) & 0xff);
    }
  }
  return out;
}

void TileCache::Show(std::shared_ptr<const TilePyramid> pyramid) {
  if (pyramid == pyramid_) return;
  Clear();
  pyramid_ = std::move(pyramid);
}

void TileCache::SetRange(const DisplayRange& range) {
  if (range == range_) return;
  Clear();
  range_ = range;
}

bool TileCache::Hold(const TileKey& key, int& budget) {
  const auto found = tiles_.find(key);
  if (found != tiles_.end()) {
    found->second.used = now_;
    return true;
  }
  if (budget <= 0) return false;
  --budget;
  const TilePyramid::Pixels pixels = pyramid_->Make(key, range_);
  tiles_[key] = {store_.Create(pixels.width, pixels.height, pixels.rgba.data()), now_};
  return true;
}

bool TileCache::Update(const CanvasTransform& transform, int budget) {
  quads_.clear();
  if (!pyramid_) return true;
  ++now_;
  int whole = 1;
  Hold({pyramid_->levels() - 1, 0, 0}, whole);  // always there: shows at once
  bool complete = true;
  const std::vector<TileKey> needed = pyramid_->Needed(transform);
  for (const TileKey& key : needed) complete = Hold(key, budget) && complete;
  const auto add = [&](const TileKey& key, const Held& held) {
    TileQuad quad{held.texture, {}};
    const auto corners = pyramid_->Corners(key);
    for (std::size_t i = 0; i < corners.size(); ++i)
      quad.corners[i] = transform.ToScreen(corners[i]);
    quads_.push_back(quad);
  };
  const int level = pyramid_->LevelFor(transform.zoom());
  if (complete) {
    for (const TileKey& key : needed) add(key, tiles_.at(key));
  } else {
    for (auto held = tiles_.rbegin(); held != tiles_.rend(); ++held)  // coarse levels first
      if (held->first.level >= level) add(held->first, held->second);
  }
  Trim();
  return complete;
}

void TileCache::Trim() {
  while (tiles_.size() > most_) {
    auto oldest = tiles_.end();
    for (auto it = tiles_.begin(); it != tiles_.end(); ++it) {
      if (it->second.used == now_) continue;
      if (oldest == tiles_.end() || it->second.used < oldest->second.used) oldest = it;
    }
    if (oldest == tiles_.end()) return;
    store_.Destroy(oldest->second.texture);
    tiles_.erase(oldest);
  }
}

void TileCache::Clear() {
  for (const auto& [key, held] : tiles_) store_.Destroy(held.texture);
  tiles_.clear();
  quads_.clear();
}

}  // namespace cutface::window
