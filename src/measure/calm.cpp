#include "measure/calm.h"

namespace cutface::measure {

ContourUm Calmed(const ContourUm& full, const ContourUm&, const std::vector<double>&,
                 const std::vector<double>&, double, double) {
  return full;
}

}  // namespace cutface::measure
