// Pieces of HTML that the pages of this room share.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/texts.h"

namespace cutface::html {

std::string Base64(std::span<const std::byte> bytes);
// "sha256-..." of a policy (W3C CSP 3): the hash in base64.
std::string PolicyHash(std::string_view text);

struct Title {
  std::string text;
  bool number = false;
};
std::string TableOpen(const std::string& id, const std::vector<Title>& titles, bool sortable);
constexpr std::string_view kTableClose = "</tbody></table></div>\n";

std::string List(const std::vector<std::string>& texts);
std::string Pair(std::string_view label, const std::string& text);  // of a dl; "" without text

}  // namespace cutface::html
