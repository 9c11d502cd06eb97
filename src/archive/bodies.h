// What bodies of entries say.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "archive/chain.h"
#include "cutface/archive.h"
#include "cutface/section.h"

namespace cutface {

// A result as its entry tells it: what an auditor asks for without opening the result file.
Json ResultBody(const SectionResult& result, const std::map<std::string, std::string>& how);

// Rows and findings of such a body that hinder a signature.
std::vector<OpenItem> ItemsOf(const Json& result_body);

Json DispositionBody(const Disposition& disposition);
// Errors: kJsonValue.
Result<Disposition> DispositionOf(const ArchiveEntry& entry);
// Errors: kJsonValue.
Result<Signature> SignatureOf(const ArchiveEntry& entry);

}  // namespace cutface
