// Dispositions and signatures: what stands open, and who answers for it.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "archive/bodies.h"
#include "archive/impl.h"

namespace cutface {
namespace {

bool Speaks(const Disposition& d, const OpenItem& item) {
  return item.finding ? d.finding == item.finding : d.row == item.row && !d.finding;
}

// Why a disposition does not settle an item that it speaks of, or "".
std::string ObjectionTo(const Disposition& d, const OpenItem& item) {
  return Objection(d, item.fails ? Verdict::kDoesNotConform : Verdict::kNotProven);
}

Json SettledJson(const std::vector<SettledItem>& settled) {
  Json array = Json::array();
  for (const SettledItem& s : settled) {
    const auto disposition = DispositionOf(s.disposition);
    Json json = {
        {"item", s.item.text}, {"by", s.disposition.who}, {"disposition", s.disposition.hash}};
    if (disposition) json["what"] = DispositionKindName(disposition->what);
    array.push_back(json);
  }
  return array;
}

EntryDraft DraftFor(const ArchiveEntry& result, const char* kind, const Signer& by) {
  return {kind, by.name(), result.part, result.lot, result.serial, result.hash, "{}"};
}

// The first reason why a person may not sign a result with this meaning; "" when there is none.
std::string Hindrance(const RecordState& state, SignatureMeaning meaning, const Signer& by) {
  const std::string head = fmt::format("entry {}: ", state.result.seq);
  if (state.replaced_by != 0)
    return head + fmt::format("was replaced by entry {}; sign that", state.replaced_by);
  for (const OpenItem& item : state.open) {
    if (item.approval_only && meaning != SignatureMeaning::kApproved) continue;
    return head + item.text + ": needs a disposition first";
  }
  bool measured_by_another = false;
  for (const Signature& s : state.decisions.signatures) {
    if (s.by == by.name() && s.meaning == meaning)
      return head +
             fmt::format("was signed by {} as {} already", s.by, SignatureMeaningName(meaning));
    measured_by_another |= s.meaning == SignatureMeaning::kMeasured && s.by != by.name();
  }
  if (meaning == SignatureMeaning::kMeasured) return "";
  const Json body = Json::parse(state.result.body, nullptr, /*allow_exceptions=*/false);
  if (TextOf(body, "inspector") == by.name())
    return head + fmt::format("was measured by {}; another person must say {}", by.name(),
                              SignatureMeaningName(meaning));
  if (!measured_by_another)
    return head + fmt::format("must be signed as measured by another person before it is {}",
                              SignatureMeaningName(meaning));
  return "";
}

}  // namespace

Result<RecordState> Archive::State(std::int64_t result_seq) const {
  auto entry = Entry(result_seq);
  if (!entry) return tl::unexpected(entry.error());
  if (entry->kind != "result") {
    return Fail(Code::kUsage, fmt::format("entry {} is a {}; name the entry of a result",
                                          result_seq, entry->kind));
  }
  auto body = BodyOf(entry->body);
  if (!body)
    return Fail(Code::kRecordsDamaged, fmt::format("entry {}: {}; run cutface records verify",
                                                   result_seq, body.error().message));
  RecordState state;
  state.result = *entry;
  const auto find = [&](const char* kind, const std::string& about) {
    ArchiveQuery query;
    query.kind = kind;
    query.about = about;
    query.limit = 100000;
    return Find(query);
  };
  auto later = find("result", entry->about);
  if (!later) return tl::unexpected(later.error());
  for (const ArchiveEntry& other : *later) {
    const Json theirs = Json::parse(other.body, nullptr, /*allow_exceptions=*/false);
    if (other.seq > result_seq && other.part == entry->part &&
        TextOf(theirs, "section") == TextOf(*body, "section"))
      state.replaced_by = other.seq;
  }
  auto dispositions = find("disposition", entry->hash);
  if (!dispositions) return tl::unexpected(dispositions.error());
  for (const ArchiveEntry& d : *dispositions) {
    if (auto read = DispositionOf(d)) state.decisions.dispositions.push_back(*read);
  }
  for (OpenItem& item : ItemsOf(*body)) {
    const ArchiveEntry* settled = nullptr;  // the last word counts
    for (const ArchiveEntry& d : *dispositions) {
      const auto read = DispositionOf(d);
      if (read && Speaks(*read, item)) settled = ObjectionTo(*read, item).empty() ? &d : nullptr;
    }
    if (settled != nullptr)
      state.settled.push_back({std::move(item), *settled});
    else
      state.open.push_back(std::move(item));
  }
  const std::string drawing = TextOf(*body, "drawing_sha256");
  if (!drawing.empty()) {
    auto released = find("drawing", drawing);
    if (!released) return tl::unexpected(released.error());
    if (released->empty()) {
      OpenItem item;
      item.text = "the drawing that it was measured against was not released by an engineer";
      state.open.push_back(item);
    }
  }
  auto signatures = find("signature", entry->hash);
  if (!signatures) return tl::unexpected(signatures.error());
  for (const ArchiveEntry& s : *signatures) {
    if (auto read = SignatureOf(s)) state.decisions.signatures.push_back(*read);
  }
  state.signatures = std::move(*signatures);
  return state;
}

namespace {

Result<EntryDraft> DisposeDraft(const RecordState& state, const Disposition& disposition,
                                const Signer& by, const std::string& now) {
  const std::int64_t result_seq = state.result.seq;
  const Json body = Json::parse(state.result.body);
  Disposition d = disposition;
  d.by = by.name();
  d.when = now;
  d.result_sha256 = TextOf(body, "file_sha256");
  if (const std::string fault = Fault(d); !fault.empty())
    return Fail(Code::kUsage, fmt::format("entry {}: {}", result_seq, fault));
  const std::vector<OpenItem> items = ItemsOf(body);
  const auto item = std::find_if(items.begin(), items.end(),
                                 [&](const OpenItem& other) { return Speaks(d, other); });
  if (item == items.end()) {
    return Fail(Code::kUsage,
                fmt::format("entry {}: has no {} that needs a disposition; see cutface records "
                            "show {}",
                            result_seq,
                            d.finding ? fmt::format("finding {}", *d.finding + 1) : "row " + d.row,
                            result_seq));
  }
  if (const std::string objection = ObjectionTo(d, *item); !objection.empty())
    return Fail(Code::kUsage, fmt::format("entry {}: {}: {}", result_seq, item->text, objection));
  EntryDraft draft = DraftFor(state.result, "disposition", by);
  draft.body = DispositionBody(d).dump();
  return draft;
}

Result<EntryDraft> SignatureDraft(const RecordState& state, SignatureMeaning meaning,
                                  const Signer& by, const std::string& now) {
  if (const std::string hindrance = Hindrance(state, meaning, by); !hindrance.empty())
    return Fail(Code::kUnsettled, hindrance + "; nothing was signed");
  const Json body = Json::parse(state.result.body);
  Json open = Json::array();
  for (const OpenItem& item : state.open) open.push_back(item.text);
  EntryDraft draft = DraftFor(state.result, "signature", by);
  draft.body = Canonical(Json{{"meaning", SignatureMeaningName(meaning)},
                              {"when", now},
                              {"role", PersonRoleName(by.role())},
                              {"result_sha256", TextOf(body, "file_sha256")},
                              {"verdict", TextOf(body, "verdict")},
                              {"settled", SettledJson(state.settled)},
                              {"open", open}});
  return draft;
}

}  // namespace

Result<ArchiveEntry> Archive::Dispose(std::int64_t result_seq, const Disposition& disposition,
                                      const Signer& by) {
  const auto make = [&]() -> Result<std::vector<EntryDraft>> {
    auto state = State(result_seq);
    if (!state) return tl::unexpected(state.error());
    auto draft = DisposeDraft(*state, disposition, by, impl_->options.now());
    if (!draft) return tl::unexpected(draft.error());
    return std::vector<EntryDraft>{std::move(*draft)};
  };
  auto added = impl_->AppendMade(make, by);
  if (!added) return tl::unexpected(added.error());
  return added->front();
}

Result<std::vector<ArchiveEntry>> Archive::Sign(std::span<const std::int64_t> results,
                                                SignatureMeaning meaning, const Signer& by) {
  const std::set<std::int64_t> once(results.begin(), results.end());
  if (once.empty()) return Fail(Code::kUsage, "there is nothing to sign");
  const auto make = [&]() -> Result<std::vector<EntryDraft>> {
    std::vector<EntryDraft> drafts;
    for (const std::int64_t seq : once) {
      auto state = State(seq);
      if (!state) return tl::unexpected(state.error());
      auto draft = SignatureDraft(*state, meaning, by, impl_->options.now());
      if (!draft) return tl::unexpected(draft.error());
      drafts.push_back(std::move(*draft));
    }
    return drafts;
  };
  return impl_->AppendMade(make, by);
}

}  // namespace cutface
