// SVG path data to a polygon: grammar and arc formulas of SVG 1.1 (Second Edition), sections 8.3
// and F.6 (implementation notes), W3C Recommendation 16 August 2011.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numbers>

#include "cutface/design.h"
#include "design/flatten.h"

namespace cutface {
namespace {

constexpr std::string_view kCommands = "MmLlHhVvAaCcQqZz";
// Coordinates beyond this are a typing error or an attack, not a catheter (1 m).
constexpr double kMostCoordinateUm = 1e6;

struct Trouble {
  std::size_t at = 0;
  std::string what;
};

// The characters with the grammar's small words: blanks, numbers, flags.
class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text) {}

  std::size_t at() const { return at_; }
  bool done() const { return at_ >= text_.size(); }
  char peek() const { return done() ? '\0' : text_[at_]; }
  void Step() { ++at_; }

  void SkipBlanks() {
    while (!done() && IsBlank(text_[at_])) ++at_;
  }
  // comma-wsp?: blanks with at most one comma among them. True when a comma stood there.
  bool SkipCommaBlanks() {
    SkipBlanks();
    if (peek() != ',') return false;
    ++at_;
    SkipBlanks();
    return true;
  }
  bool AtNumber() const {
    const char c = peek();
    return (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+';
  }

  // number: sign? digits with an optional point, exponent? -- takes the longest such run, so that
  // "1-2", "0.5.5" and "1e3" split as the grammar says.
  std::optional<double> Number() {
    std::size_t end = at_;
    const std::size_t sign_end = end + ((peek() == '-' || peek() == '+') ? 1 : 0);
    end = Digits(sign_end);
    std::size_t digits = end - sign_end;
    if (end < text_.size() && text_[end] == '.') {
      const std::size_t fraction = Digits(end + 1);
      digits += fraction - (end + 1);
      end = fraction;
    }
    if (digits == 0) return std::nullopt;
    if (end < text_.size() && (text_[end] == 'e' || text_[end] == 'E')) {
      std::size_t exponent = end + 1;
      if (exponent < text_.size() && (text_[exponent] == '-' || text_[exponent] == '+')) ++exponent;
      if (Digits(exponent) > exponent) end = Digits(exponent);
    }
    // from_chars knows no leading plus.
    const std::size_t begin = text_[at_] == '+' ? at_ + 1 : at_;
    double value = 0;
    const auto read = std::from_chars(text_.data() + begin, text_.data() + end, value);
    if (read.ec == std::errc::result_out_of_range) {
      const std::string_view digits_text = text_.substr(begin, end - begin);
      // Too small for a double is zero, too large is an error.
      if (digits_text.find("e-") == std::string_view::npos &&
          digits_text.find("E-") == std::string_view::npos) {
        return std::nullopt;
      }
      value = 0;
    }
    at_ = end;
    return value;
  }
  std::optional<bool> FlagDigit() {
    if (peek() != '0' && peek() != '1') return std::nullopt;
    return text_[at_++] == '1';
  }

 private:
  static bool IsBlank(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }
  std::size_t Digits(std::size_t from) const {
    while (from < text_.size() && text_[from] >= '0' && text_[from] <= '9') ++from;
    return from;
  }

  std::string_view text_;
  std::size_t at_ = 0;
};

class PathReader {
 public:
  PathReader(std::string_view text, double um_per_unit, double tolerance_um)
      : scan_(text), um_(um_per_unit), line_(tolerance_um) {}

  // False: trouble() says what and where.
  bool Read() {
    scan_.SkipBlanks();
    if (scan_.peek() != 'M' && scan_.peek() != 'm') return Stop("must begin with M");
    while (!scan_.done()) {
      if (closed_) return Stop("text after Z; a shape is one closed contour");
      const char command = scan_.peek();
      if (kCommands.find(command) == std::string_view::npos) return Unknown(command);
      if ((command == 'M' || command == 'm') && started_) {
        return Stop("a second M; a shape is one closed contour");
      }
      scan_.Step();
      if (command == 'Z' || command == 'z') {
        closed_ = true;
      } else if (!Arguments(command)) {
        return false;
      }
      scan_.SkipBlanks();
    }
    return true;
  }

  const Trouble& trouble() const { return trouble_; }
  ContourUm Take() { return line_.Take(); }

 private:
  bool Stop(std::string what) {
    trouble_ = {scan_.at(), std::move(what)};
    return false;
  }
  bool Unknown(char c) {
    if (c == 'S' || c == 's') return Stop("command S is not read; write it as C");
    if (c == 'T' || c == 't') return Stop("command T is not read; write it as Q");
    const bool printable = c > 0x20 && c < 0x7f;
    return Stop(fmt::format("unexpected {}; commands are M L H V A C Q Z and their small letters",
                            printable ? fmt::format("\"{}\"", c) : std::string("character")));
  }

  // One command letter with its argument sequences, repeated as often as numbers follow.
  bool Arguments(char command) {
    bool comma = false;
    bool first = true;
    scan_.SkipBlanks();
    while (first || comma || scan_.AtNumber()) {
      if (!Once(command)) return false;
      // Coordinates after the first pair of a moveto are lineto.
      if (command == 'M') command = 'L';
      if (command == 'm') command = 'l';
      first = false;
      if (line_.full()) return Stop("more corners than a drawing has; simplify the path");
      comma = scan_.SkipCommaBlanks();
    }
    return true;
  }

  bool Once(char command) {
    const bool relative = command >= 'a';
    const PointUm from = relative ? here_ : PointUm{};
    switch (command) {
      case 'M':
      case 'm':
        if (!Pair(from, here_)) return false;
        started_ = true;
        line_.Start(here_);
        return true;
      case 'L':
      case 'l':
        if (!Pair(from, here_)) return false;
        line_.LineTo(here_);
        return true;
      case 'H':
      case 'h':
        if (!Coordinate(from.x, here_.x)) return false;
        line_.LineTo(here_);
        return true;
      case 'V':
      case 'v':
        if (!Coordinate(from.y, here_.y)) return false;
        line_.LineTo(here_);
        return true;
      case 'C':
      case 'c': {
        PointUm first, second;
        if (!Pair(from, first) || !NextPair(from, second) || !NextPair(from, here_)) return false;
        line_.CubicTo(first, second, here_);
        return true;
      }
      case 'Q':
      case 'q': {
        PointUm control;
        if (!Pair(from, control) || !NextPair(from, here_)) return false;
        line_.QuadraticTo(control, here_);
        return true;
      }
      default:
        return Arc(from);
    }
  }

  bool Arc(PointUm from) {
    double rx = 0, ry = 0;
    if (!Coordinate(0, rx)) return false;
    scan_.SkipCommaBlanks();
    if (!Coordinate(0, ry)) return false;
    scan_.SkipCommaBlanks();
    const std::optional<double> turn_deg = scan_.Number();
    if (!turn_deg) return Stop("a number is missing (the arc's rotation in degrees)");
    scan_.SkipCommaBlanks();
    const std::optional<bool> large = scan_.FlagDigit();
    if (!large) return Stop("the arc's large flag must be 0 or 1");
    scan_.SkipCommaBlanks();
    const std::optional<bool> sweep = scan_.FlagDigit();
    if (!sweep) return Stop("the arc's sweep flag must be 0 or 1");
    scan_.SkipCommaBlanks();
    if (!Pair(from, here_)) return false;
    // Only the turn within a circle matters; fmod keeps huge angles exact enough to be finite.
    line_.ArcTo(rx, ry, std::fmod(*turn_deg, 360.0) * std::numbers::pi / 180, *large, *sweep,
                here_);
    return true;
  }

  bool Pair(PointUm from, PointUm& to) {
    PointUm point;
    if (!Coordinate(from.x, point.x)) return false;
    scan_.SkipCommaBlanks();
    if (!Coordinate(from.y, point.y)) return false;
    to = point;
    return true;
  }
  bool NextPair(PointUm from, PointUm& to) {
    scan_.SkipCommaBlanks();
    return Pair(from, to);
  }
  bool Coordinate(double from, double& to) {
    const std::size_t begin = scan_.at();
    const std::optional<double> number = scan_.Number();
    if (!number)
      return Stop(scan_.AtNumber() ? "not a number that can be used" : "a number is missing");
    to = from + *number * um_;
    if (!(std::abs(to) <= kMostCoordinateUm)) {
      trouble_ = {begin, "a coordinate of more than 1 m; check the units"};
      return false;
    }
    return true;
  }

  Scanner scan_;
  double um_;
  PolylineBuilder line_;
  PointUm here_;
  bool started_ = false;
  bool closed_ = false;
  Trouble trouble_;
};

}  // namespace

Result<ContourUm> FlattenSvgPath(std::string_view path, double um_per_unit, double tolerance_um) {
  CF_CHECK(um_per_unit > 0 && tolerance_um > 0);
  PathReader reader(path, um_per_unit, tolerance_um);
  if (!reader.Read()) {
    return Fail(Code::kJsonValue, fmt::format("path, character {}: {}", reader.trouble().at + 1,
                                              reader.trouble().what));
  }
  ContourUm contour = reader.Take();
  if (!TidyContour(contour)) {
    return Fail(Code::kJsonValue,
                fmt::format("path, character {}: encloses no area; give at least three corners",
                            path.size()));
  }
  return contour;
}

}  // namespace cutface
