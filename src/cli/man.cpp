#include "cli/man.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <sstream>

namespace cutface {
namespace {

// Text as roff takes it: backslashes and leading dots and quotes would be read as requests, and a
// plain hyphen may become a typographic one.
std::string Roff(const std::string& text) {
  std::string out;
  bool starts = true;
  for (const char c : text) {
    if (starts && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
    starts = c == '\n';
  }
  return out;
}

// Blank lines part paragraphs.
std::string Paragraphs(const std::string& text) {
  std::istringstream lines(text);
  std::string out, line;
  while (std::getline(lines, line)) out += line.empty() ? ".PP\n" : Roff(line) + "\n";
  return out;
}

std::string Names(const CLI::Option& option) {
  std::string out;
  for (const std::string& name : option.get_snames()) {
    out += (out.empty() ? "\\fB\\-" : ", \\fB\\-") + Roff(name) + "\\fR";
  }
  for (const std::string& name : option.get_lnames()) {
    out += (out.empty() ? "\\fB\\-\\-" : ", \\fB\\-\\-") + Roff(name) + "\\fR";
  }
  if (out.empty()) return "\\fI" + Roff(option.get_type_name()) + "\\fR";
  const std::string type = option.get_type_name();
  if (option.get_expected_max() > 0 && !type.empty()) out += " \\fI" + Roff(type) + "\\fR";
  return out;
}

void Options(const CLI::App& app, std::string& page) {
  for (const CLI::Option* option : app.get_options()) {
    if (option->get_group().empty()) continue;  // hidden
    page += ".TP\n" + Names(*option) + "\n" + Roff(option->get_description());
    if (option->get_required()) page += " (needed)";
    page += "\n";
  }
}

void Command(const CLI::App& app, const std::string& above, std::string& page) {
  const std::string name = above.empty() ? app.get_name() : above + " " + app.get_name();
  page += fmt::format(".SS {}\n{}\n", Roff(name), Roff(app.get_description()));
  Options(app, page);
  for (const CLI::App* below : app.get_subcommands([](const CLI::App*) { return true; })) {
    Command(*below, name, page);
  }
}

}  // namespace

void AddManual(CLI::App& app) {
  app.add_flag_callback(
      "--man", [] { throw CLI::CallForAllHelp(); }, "Print the manual page in the man macros");
}

std::string ManPage(const CLI::App& app, const std::string& version) {
  std::string page = fmt::format(".TH CUTFACE 1 \"\" \"cutface {}\" \"User commands\"\n", version);
  page += ".SH NAME\ncutface \\- measures the cut face of a catheter\n";
  page += ".SH SYNOPSIS\n.B cutface\n\\fICOMMAND\\fR [\\fIoption\\fR ...]\n";
  page += ".SH DESCRIPTION\n" + Paragraphs(app.get_description());
  page += ".SH OPTIONS\n";
  Options(app, page);
  page += ".SH COMMANDS\n";
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    Command(*command, "", page);
  }
  page += ".SH EXIT STATUS AND CAUTIONS\n" + Paragraphs(app.get_footer());
  return page;
}

}  // namespace cutface
