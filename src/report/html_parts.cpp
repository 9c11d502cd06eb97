#include "report/html_parts.h"

#include <fmt/format.h>
#include <glib.h>

namespace cutface::html {

std::string Base64(std::span<const std::byte> bytes) {
  char* text = g_base64_encode(reinterpret_cast<const guchar*>(bytes.data()), bytes.size());
  std::string out(text);
  g_free(text);
  return out;
}

// "sha256-..." of a policy (W3C CSP 3): the hash in base64.
std::string PolicyHash(std::string_view text) {
  const std::string hex = Sha256Hex(text);
  std::vector<std::byte> bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    bytes.push_back(static_cast<std::byte>(std::stoi(hex.substr(i, 2), nullptr, 16)));
  return "'sha256-" + Base64(bytes) + "'";
}

std::string TableOpen(const std::string& id, const std::vector<Title>& titles, bool sortable) {
  std::string html = fmt::format("<div class=\"scroll\"><table id=\"{}\"{}><thead><tr>", id,
                                 sortable ? " class=\"sort\"" : "");
  for (const Title& t : titles) {
    html += fmt::format("<th scope=\"col\"{}>", t.number ? " class=\"num\"" : "");
    html += sortable ? fmt::format("<button type=\"button\">{}</button></th>", HtmlEscaped(t.text))
                     : fmt::format("<span>{}</span></th>", HtmlEscaped(t.text));
  }
  return html + "</tr></thead><tbody>\n";
}

std::string List(const std::vector<std::string>& texts) {
  std::string html = "<ul>";
  for (const std::string& text : texts) html += "<li>" + HtmlEscaped(text) + "</li>";
  return html + "</ul>\n";
}

std::string Pair(std::string_view label, const std::string& text) {
  return text.empty() ? "" : fmt::format("<dt>{}</dt><dd>{}</dd>", label, HtmlEscaped(text));
}

}  // namespace cutface::html
