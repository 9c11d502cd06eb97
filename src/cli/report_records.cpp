// Dispositions and signatures of a report's faces out of a store of records.
#include <fmt/format.h>

#include "cli/report_input.h"
#include "cutface/archive.h"

namespace cutface {
namespace {

void TakeState(const RecordState& state, ReportRecords::Face& face, Decisions& decisions) {
  face.replaced_by = state.replaced_by;
  for (const OpenItem& item : state.open)
    face.open.push_back({item.row, item.finding, item.text, item.approval_only});
  decisions.dispositions.insert(decisions.dispositions.end(), state.decisions.dispositions.begin(),
                                state.decisions.dispositions.end());
  decisions.signatures.insert(decisions.signatures.end(), state.decisions.signatures.begin(),
                              state.decisions.signatures.end());
}

}  // namespace

Status TakeFromRecords(const std::string& place, const Progress& progress, ReportInput& input) {
  auto store = Archive::Open(place);
  if (!store) return tl::unexpected(store.error());
  // A signature counts only in a store that is as it was written.
  VerifyOptions chain_and_seals;
  chain_and_seals.files = false;
  chain_and_seals.progress = progress;
  auto verified = store->Verify(chain_and_seals);
  if (!verified) return tl::unexpected(verified.error());
  if (!verified->Sound()) {
    const VerifyProblem& first = verified->problems.front();
    return Fail(Code::kRecordsDamaged,
                fmt::format("{}: is not as it was written ({}{}); no report was made, see cutface "
                            "records verify",
                            store->place(),
                            first.seq > 0 ? fmt::format("entry {} ", first.seq) : "", first.text));
  }
  ReportRecords records;
  records.store = store->place();
  records.entries = verified->head.entries;
  records.head = verified->head.hash;
  for (const ReportFace& face : input.faces) {
    ReportRecords::Face kept;
    auto entry = store->EntryOfResult(face.result.image_sha256, face.result_sha256);
    if (!entry) return tl::unexpected(entry.error());
    kept.entry = *entry;
    if (kept.entry != 0) {
      auto state = store->State(kept.entry);
      if (!state) return tl::unexpected(state.error());
      TakeState(*state, kept, input.decisions);
    }
    records.faces.push_back(std::move(kept));
  }
  input.records = std::move(records);
  return {};
}

}  // namespace cutface
