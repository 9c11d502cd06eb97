// Must not compile: a pixel position is no position in micrometres. With -DCONTROL the offending
// line is left out and the file must compile, so that the failure is known to come from that line.
#include "cutface/scale.h"

double Mixed(cutface::PointPx px, cutface::PointUm um) {
#ifdef CONTROL
  return cutface::Distance(cutface::Scale::Isotropic(2.0).ToUm(px), um);
#else
  return cutface::Distance(px, um);
#endif
}
