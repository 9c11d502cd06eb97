// The qualification as words and as rows of tables.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/texts.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

std::string LookWords(const SiteLook& look) {
  const auto tone = [](const char* name, const std::optional<double>& value) {
    return value ? fmt::format(", {} {:.2f}", name, *value) : std::string();
  };
  std::string text = tone("body tone", look.body_tone) + tone("surround", look.surround_tone) +
                     tone("lumens", look.lumen_tone);
  text += look.rim_px > 0 ? fmt::format(", edges {} by {:.0f} % over {:.1f} px",
                                        look.rim_depth > 0 ? "darker" : "brighter",
                                        100 * std::abs(look.rim_depth), look.rim_px)
                          : ", no rim";
  return text + fmt::format(", {} ({:.1f} % of places beside the outline stand out)",
                            look.dirt ? "dirt" : "no dirt", 100 * look.odd_share);
}

}  // namespace

TextRows QualifiedLengths(const Qualification& q) {
  TextRows rows = {{"quantity", "n", "not measured", "mean error um", "sd um", "worst um",
                    "median U um", "interval holds", "95 % of that", "limit um", "verdict"}};
  for (const WordErrors& w : q.words) {
    if (w.n == 0) {
      rows.push_back({w.word, "0", std::to_string(w.not_measured), "-", "-", "-", "-", "-", "-",
                      w.limit_um ? fmt::format("{:g}", *w.limit_um) : "-", w.verdict});
      continue;
    }
    rows.push_back(
        {w.word, std::to_string(w.n), std::to_string(w.not_measured),
         fmt::format("{:+.3f}", w.mean_um), fmt::format("{:.3f}", w.sd_um),
         fmt::format("{:+.2f}", w.worst_um), fmt::format("{:.2f}", w.median_u_um),
         fmt::format("{:.1f} %", 100.0 * static_cast<double>(w.covered) / static_cast<double>(w.n)),
         fmt::format("{:.0f} to {:.0f} %", 100 * w.coverage_lo, 100 * w.coverage_hi),
         w.limit_um ? fmt::format("{:g}", *w.limit_um) : "-", w.verdict});
  }
  return rows;
}

TextRows QualifiedSizes(const FoundFigure& figure, const std::string& what) {
  TextRows rows = {{what, "rendered", "found", "share at least (95 %)"}};
  for (const SizeClass& c : figure.classes)
    rows.push_back({fmt::format("{:.3g} to {:.3g} um", c.least_um, c.greatest_um),
                    std::to_string(c.of), std::to_string(c.found),
                    c.of > 0 ? fmt::format("{:.0f} %", 100 * c.share_lo) : "-"});
  return rows;
}

TextRows QualifiedFactors(const Qualification& q) {
  TextRows rows = {{"varied", "from", "to", "RMS um, lower third", "middle", "upper third",
                    "p, all", "what errors do"}};
  for (const FactorFigure& f : q.factors) {
    std::vector<std::string> row = {f.unit.empty() ? f.name : f.name + ", " + f.unit,
                                    fmt::format("{:.3g}", f.least),
                                    fmt::format("{:.3g}", f.greatest)};
    for (std::size_t k = 0; k < 3; ++k)
      row.push_back(f.faces[k] > 0 ? fmt::format("{:.2f} ({})", f.rms_um[k], f.faces[k]) : "-");
    row.push_back(fmt::format("{:.2g}", f.p_all));
    row.push_back(f.sentence);
    rows.push_back(std::move(row));
  }
  return rows;
}

std::string WireSentence(const WireFigure& w) {
  if (w.of + w.missing == 0) return "";
  std::string text = fmt::format("Wires: {} of {} found at their place", w.found, w.of);
  if (w.found > 0) text += fmt::format(" (centres off by {} RMS)", Micrometres(w.rms_off_um));
  return text + fmt::format(", {} told where there is none; missing ones told: {} of {}.",
                            w.invented, w.missing_told, w.missing);
}

std::string FoundSentence(const FoundFigure& figure, const std::string& what) {
  return what + ": " + figure.reason + (figure.limit_um ? ": " + figure.verdict : "") +
         fmt::format("; {} told where there is none.", figure.invented);
}

std::string KnownSentence(const Qualification& q) {
  if (q.known.empty()) return "Known answers: left out.";
  double greatest = 0;
  std::size_t values = 0;
  bool ok = !q.known.empty(), same = ok, twice = ok;
  for (const KnownAnswer& k : q.known) {
    greatest = std::max(greatest, k.greatest_px);
    values += k.values;
    ok = ok && k.ok;
    same = same && k.same_picture;
    twice = twice && k.same_twice;
  }
  return fmt::format(
      "Known answers: {} lengths on {} faces, greatest difference {:.2g} px (limit {:g}): {}; two "
      "runs "
      "gave {} digits{}.",
      values, q.known.size(), greatest, kKnownAnswerPx, ok ? "pass" : "fail",
      twice ? "the same" : "DIFFERENT",
      same ? "" : "; the rendered pictures differ from those of the release in some bytes");
}

std::string CameraSentence(const SiteCamera& c) {
  std::string text = fmt::format(
      "{} x {} px, {:.4g} um a pixel (u {:.2g} %), blur {:.2f} px, noise {:.2g} % of full scale, "
      "gamma {:.3g}, {} light",
      c.width_px, c.height_px, c.pitch_um, 100 * c.u_pitch, c.blur_px, 100 * c.noise, c.gamma,
      PhantomLightName(c.light));
  if (!c.image.empty()) text += ", told from " + c.image;
  if (c.look) text += LookWords(*c.look);
  for (std::size_t i = 0; i < c.assumed.size(); ++i)
    text += (i == 0 ? "; assumed: " : ", ") + c.assumed[i];
  return text;
}

std::string QualificationText(const Qualification& q) {
  std::string text = PlainText(q.part + ", " + q.section) + ": " + q.answer + "\n\n";
  text += "camera: " + PlainText(CameraSentence(q.camera), 900) + "\n";
  text += fmt::format("{} faces from seed {}, {} measured\n\n", q.faces, q.seed, q.measured);
  text += NumberRows(QualifiedLengths(q));
  for (const WordErrors& w : q.words)
    if (w.verdict == "fail") text += "  " + w.word + " fails: " + w.reason + "\n";
  text += "\n" + NumberRows(QualifiedSizes(q.voids, "void, equal-area diameter"));
  text += "  " + FoundSentence(q.voids, "voids") + "\n\n";
  text += NumberRows(QualifiedSizes(q.septa, "septum (told within 1 px)"));
  text += "  " + FoundSentence(q.septa, "septa") +
          fmt::format(" Broken ones told as broken: {} of {}.\n\n", q.broken_told, q.broken);
  if (const std::string wires = WireSentence(q.wires); !wires.empty()) text += wires + "\n\n";
  text +=
      "varied together from face to face (RMS error of lengths by third of the range, faces):\n" +
      NumberRows(QualifiedFactors(q)) + "\n";
  text += KnownSentence(q) + "\n";
  text += "Evidence: " + PlainText(q.evidence, 900) + "\n";
  for (const std::string& line : q.failed_faces) text += "  " + PlainText(line) + "\n";
  for (const std::string& line : q.not_tried) text += "  " + PlainText(line) + "\n";
  text += "Not covered:\n";
  for (const std::string& line : q.not_covered) text += "  - " + line + "\n";
  return text;
}

}  // namespace cutface
