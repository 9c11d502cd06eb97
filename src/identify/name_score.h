// How likely unnamed regions are, given a registration of the drawing.
#pragma once

#include <Eigen/Core>
#include <map>
#include <vector>

#include "identify/label_score.h"
#include "identify/region_pool.h"

namespace cutface {

struct Naming {
  double value = -1e9;  // log-likelihood up to a constant
  Warp placed;          // the registration as given
  Warp warp;            // with the lumens' common shift
  std::size_t pool = 0;
  std::vector<std::vector<int>> lumens;  // per region of the pool, those it bears the names of
  std::vector<double> gain;              // per region, over a lumen that was not found
};

class NameScore {
 public:
  // Keeps `labels` and `pools`.
  NameScore(const SectionDesign& plane, const LabelScore& labels,
            const std::vector<RegionPool>& pools, const Pose& pose);

  // With the common shift and size of the lumens that fit best.
  Naming Evaluate(const Warp& warp, std::size_t pool) const;
  // The same with what the shapes say about it, sizes and centres apart.
  Naming WithShapes(Naming naming) const;
  // The registration as it is names every region as `best` does.
  bool NamesAll(const Warp& warp, const Naming& best) const;
  // No region and no lumen is told differently, but for what the drawing's symmetry swaps.
  bool SameNames(const Naming& a, const Naming& b) const;
  // Lumens of `a` whose regions bear another name in `b`, with that lumen; -1 where they bear none
  // there, and for a lumen whose name another one's region bears there. What the drawing's symmetry
  // swaps is no other name.
  std::map<int, int> Renamed(const Naming& a, const Naming& b) const;

 private:
  struct Lumen {
    PointUm centre, inside;  // centroid; deepest point
    double area = 0;         // um^2
    int group = 0;           // first lumen that it interchanges with, itself when none
    bool alone = true;
  };
  struct Match {
    std::size_t region = 0;
    std::vector<int> lumens;
    Eigen::Vector2d off = Eigen::Vector2d::Zero();  // of the centre, radii
    double size = 0;                                // log of the diameter's ratio
  };
  std::vector<Match> Matches(const Warp& warp, const Eigen::Vector2d& shift, double size,
                             const RegionPool& pool) const;
  Match Compare(const Warp& warp, const std::vector<int>& lumens, std::size_t region,
                const RegionPool& pool) const;
  Naming Plain(const Warp& warp, std::size_t pool) const;
  Naming Climbed(const Warp& warp, const Eigen::Vector2d& start, std::size_t pool) const;

  double ShapeMiss(const Naming& naming, std::size_t region) const;

  std::vector<Lumen> lumens_;
  const LabelScore& labels_;
  const std::vector<RegionPool>& pools_;
  double radius_px_ = 1;
};

}  // namespace cutface
