// One plane's contours in the drawing's frame.
#pragma once

#include <map>

#include "cutface/planes.h"

namespace cutface::planes {

struct PlaneFace {
  double station_um = 0;
  const SectionResult* result = nullptr;
  ContourUm outline;
  std::map<std::string, ContourUm> lumens;  // by every name; merged ones twice
  std::map<int, ContourUm> voids;           // that count, by number
  PointUm Vector(PointUm picture) const;    // direction in the picture to the drawing's frame
  PointUm origin;
};

PlaneFace InDrawing(const SectionResult& result, double station_um);
const Measurement* Find(const SectionResult& result, const std::vector<std::string>& of,
                        std::string_view word);
double ClockDeg(PointUm direction);  // of a direction in the drawing's frame

void LinkVoids(std::span<const PlaneFace> faces, const PlaneOptions& options, PlaneStack& stack);
void SearchBarriers(std::span<const PlaneFace> faces, const PlaneOptions& options,
                    PlaneStack& stack);
void CompareBraids(std::span<const PlaneFace> faces, const PlaneOptions& options,
                   PlaneStack& stack);
void CompareBonds(std::span<const PlaneFace> faces, const PlaneOptions& options, PlaneStack& stack);

// Voids of two neighbouring planes that are taken for one.
bool Linked(const ContourUm& a, const ContourUm& b, double align_um);

}  // namespace cutface::planes
