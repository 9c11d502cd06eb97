// Nested groups of any depth and size.
//
// With m(g) values in group g, level l has SS_l = sum over its groups of m (mean - mean of the
// parent)^2. E[MS_l] = variance within + sum over levels k >= l of c(l, k) variance_k, where c(l,
// k) df_l = sum over groups h of level k of m(h)^2 (1 / m(ancestor of h at l) - 1 / m(ancestor at l
// - 1)). The triangle is solved from the innermost level outwards.
#include <cmath>
#include <map>

#include "cutface/anova.h"
#include "stats/exact_sum.h"

namespace cutface {
namespace {

struct Nest {
  std::size_t parent = 0;  // in the level above
  std::size_t n = 0;       // values
  ExactSum sum;
  double mean = 0;  // less the pivot
};

// tree[0] is the whole, tree[l] the groups of level l.
using NestTree = std::vector<std::vector<Nest>>;

NestTree GrowTree(std::span<const NestedValue> values, std::size_t depth, double pivot,
                  std::vector<std::size_t>& leaf_of) {
  NestTree tree(depth + 1);
  tree[0].resize(1);
  std::vector<std::map<std::pair<std::size_t, std::string>, std::size_t>> known(depth + 1);
  for (const NestedValue& value : values) {
    std::size_t at = 0;
    const double off = value.value - pivot;
    tree[0][0].sum.Add(off);
    ++tree[0][0].n;
    for (std::size_t l = 1; l <= depth; ++l) {
      const auto [found, fresh] = known[l].try_emplace({at, value.groups[l - 1]}, tree[l].size());
      if (fresh) {
        tree[l].push_back({});
        tree[l].back().parent = at;
      }
      at = found->second;
      tree[l][at].sum.Add(off);
      ++tree[l][at].n;
    }
    leaf_of.push_back(at);
  }
  for (std::vector<Nest>& level : tree)
    for (Nest& nest : level) nest.mean = nest.sum.Value() / static_cast<double>(nest.n);
  return tree;
}

bool IsBalanced(const NestTree& tree) {
  for (std::size_t l = 1; l < tree.size(); ++l) {
    std::vector<std::size_t> children(tree[l - 1].size(), 0);
    for (const Nest& nest : tree[l]) {
      if (nest.n != tree[l].front().n) return false;
      ++children[nest.parent];
    }
    for (std::size_t count : children)
      if (count != children.front()) return false;
  }
  return true;
}

std::size_t AncestorAt(const NestTree& tree, std::size_t level, std::size_t at,
                       std::size_t wanted) {
  for (; level > wanted; --level) at = tree[level][at].parent;
  return at;
}

// c(l, k) df_l of the head of this file.
double Coefficient(const NestTree& tree, std::size_t l, std::size_t k) {
  ExactSum sum;
  for (std::size_t h = 0; h < tree[k].size(); ++h) {
    const double m = static_cast<double>(tree[k][h].n);
    const std::size_t own = AncestorAt(tree, k, h, l);
    const double inner = static_cast<double>(tree[l][own].n);
    const double outer = static_cast<double>(tree[l - 1][tree[l][own].parent].n);
    sum.Add(m * m * (1 / inner - 1 / outer));
  }
  return sum.Value();
}

void FillVariances(const NestTree& tree, NestedAnova& out) {
  const std::size_t depth = tree.size() - 1;
  NestedLevel& within = out.levels[depth];
  if (within.line.df > 0) within.variance = within.line.ms;
  if (!within.variance) return;
  for (std::size_t l = depth; l >= 1; --l) {
    NestedLevel& level = out.levels[l - 1];
    if (level.line.df == 0) return;  // what lies above cannot be told apart from it
    const double df = static_cast<double>(level.line.df);
    double left = level.line.ms - *within.variance;
    for (std::size_t k = l + 1; k <= depth; ++k)
      left -= Coefficient(tree, l, k) / df * *out.levels[k - 1].variance;
    level.variance = left / (Coefficient(tree, l, l) / df);
  }
}

}  // namespace

Result<NestedAnova> Nested(std::span<const NestedValue> values) {
  const std::size_t depth = values.empty() ? 0 : values.front().groups.size();
  if (depth == 0) return Fail(Code::kUsage, "analysis of variance: no value or no group");
  for (const NestedValue& value : values) {
    if (value.groups.size() != depth || !std::isfinite(value.value)) {
      return Fail(Code::kUsage,
                  "analysis of variance: every value needs the same groups and must be a number");
    }
  }
  const double pivot = values.front().value;
  std::vector<std::size_t> leaf_of;
  const NestTree tree = GrowTree(values, depth, pivot, leaf_of);
  if (tree[1].size() < 2)
    return Fail(Code::kUsage, "analysis of variance: needs two outer groups or more");
  NestedAnova out;
  out.levels.resize(depth + 1);
  for (std::size_t l = 1; l <= depth; ++l) {
    ExactSum ss;
    for (const Nest& nest : tree[l]) {
      const double off = nest.mean - tree[l - 1][nest.parent].mean;
      ss.Add(static_cast<double>(nest.n) * off * off);
    }
    NestedLevel& level = out.levels[l - 1];
    level.groups = tree[l].size();
    level.line.ss = ss.Value();
    level.line.df = tree[l].size() - tree[l - 1].size();
  }
  ExactSum within;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double off = (values[i].value - pivot) - tree[depth][leaf_of[i]].mean;
    within.Add(off * off);
  }
  out.levels[depth].line.ss = within.Value();
  out.levels[depth].line.df = values.size() - tree[depth].size();
  for (NestedLevel& level : out.levels) {
    out.total_ss += level.line.ss;
    if (level.line.df > 0) level.line.ms = level.line.ss / static_cast<double>(level.line.df);
  }
  for (std::size_t l = 0; l < depth; ++l) {
    AnovaLine& line = out.levels[l].line;
    const AnovaLine& below = out.levels[l + 1].line;
    if (line.df == 0 || below.df == 0 || below.ms <= 0) continue;
    line.f = line.ms / below.ms;
    line.p = FUpperTail(*line.f, line.df, below.df);
  }
  FillVariances(tree, out);
  out.balanced = IsBalanced(tree);
  out.mean = pivot + tree[0][0].mean;
  return out;
}

}  // namespace cutface
