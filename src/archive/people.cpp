// Persons of a store: who they are, what they may do, whether they are who they say.
#include <fmt/format.h>

#include <cmath>
#include <ctime>

#include "archive/impl.h"

namespace cutface {
namespace {

// Seconds since 1970 of "2026-03-02T09:15:00Z"; 0 when it is no such time.
std::time_t SecondsOf(const std::string& text) {
  std::tm parts{};
  const char* end = ::strptime(text.c_str(), "%Y-%m-%dT%H:%M:%SZ", &parts);
  return end == nullptr || *end != '\0' ? 0 : ::timegm(&parts);
}

Error WrongPassphrase(const std::string& shown, const std::string& name) {
  return {Code::kNotAllowed,
          fmt::format("{}: passphrase and name do not fit ({}); check both. After {} wrong tries a "
                      "person waits {} minutes",
                      shown, name, kWrongInARow, kWaitMinutes)};
}

EntryDraft PersonDraft(const PersonKey& person, const std::string& by) {
  return {"person", by, "", "", "", "", PersonToJson(person).dump()};
}

}  // namespace

Result<std::map<std::string, KnownPerson>> Archive::Impl::Persons() const {
  std::map<std::string, KnownPerson> persons;
  ArchiveQuery query;
  query.kind = "person";
  for (;;) {
    auto entries = SelectEntries(*db, query);
    if (!entries) return tl::unexpected(entries.error());
    for (const ArchiveEntry& entry : *entries) {
      auto body = BodyOf(entry.body);
      auto person = body ? PersonOf(*body) : Result<PersonKey>(tl::unexpected(body.error()));
      if (!person) {
        return Fail(Code::kRecordsDamaged,
                    fmt::format("{}: entry {}: {}; run cutface records verify", db->shown,
                                entry.seq, person.error().message));
      }
      const std::string name = person->name;
      persons[name] = {std::move(*person), entry.seq};
    }
    if (entries->size() < query.limit) return persons;
    query.after = entries->back().seq;
  }
}

Status Archive::Impl::CheckSigner(const Signer& signer) const {
  auto persons = Persons();
  if (!persons) return tl::unexpected(persons.error());
  const auto found = persons->find(signer.name());
  const PersonKey& key = signer.key_->person;
  if (found == persons->end() || !found->second.key.active ||
      found->second.key.public_key != key.public_key || found->second.key.role != key.role) {
    return Fail(Code::kNotAllowed,
                fmt::format("{}: {} was changed or retired meanwhile", db->shown, signer.name()));
  }
  return {};
}

Result<std::vector<Person>> Archive::People() const {
  auto persons = impl_->Persons();
  if (!persons) return tl::unexpected(persons.error());
  std::vector<Person> people;
  for (const auto& [name, known] : *persons)
    people.push_back({name, known.key.role, known.key.active, known.entry});
  return people;
}

Result<Signer> Archive::Unlock(const std::string& name, const Passphrase& passphrase) {
  const std::string who = Utf8(name);
  auto persons = impl_->Persons();
  if (!persons) return tl::unexpected(persons.error());
  ArchiveQuery wrong;
  wrong.kind = "refused";
  wrong.who = who;
  wrong.newest_first = true;
  wrong.limit = static_cast<std::size_t>(kWrongInARow);
  auto refused = SelectEntries(*impl_->db, wrong);
  if (!refused) return tl::unexpected(refused.error());
  if (refused->size() == wrong.limit) {
    // A clock that was set back does not end the wait: the time is counted by its amount.
    const double since = std::abs(
        std::difftime(SecondsOf(impl_->options.now()), SecondsOf(refused->back().written)));
    if (since < 60 * kWaitMinutes) {
      return Fail(Code::kNotAllowed,
                  fmt::format("{}: {} wrong passphrases were given for {} within {} minutes; try "
                              "again {} minutes later",
                              place(), kWrongInARow, who, kWaitMinutes,
                              std::ceil(kWaitMinutes - since / 60)));
    }
  }
  const auto found = persons->find(who);
  auto key = std::make_unique<Signer::Key>();
  // Somebody unknown takes as long as somebody known.
  if (found != persons->end()) {
    key->person = found->second.key;
  } else {
    key->person.cost = impl_->options.key_cost;
    key->person.salt = RandomHex(16);
    key->person.public_key = std::string(64, '0');
  }
  auto right = OpenKey(key->person, passphrase, key->secret);
  if (!right) return tl::unexpected(right.error());
  if (*right && found != persons->end() && found->second.key.active) return Signer(std::move(key));
  const EntryDraft draft{
      "refused", who, "", "", "", "", R"({"reason":"wrong passphrase or name"})"};
  (void)impl_->AppendAll({}, {&draft, 1}, nullptr);  // a store that is read-only takes no signature
  return tl::unexpected(WrongPassphrase(place(), who));
}

Result<ArchiveEntry> Archive::SetPerson(const std::string& name, PersonRole role,
                                        const Passphrase& passphrase, const Signer& by) {
  auto persons = impl_->Persons();
  if (!persons) return tl::unexpected(persons.error());
  PersonKey person;
  person.name = Utf8(name);
  person.role = role;
  person.cost = impl_->options.key_cost;
  if (person.name.empty() || person.name.size() > kLongestKey)
    return Fail(Code::kUsage, "a person needs a name of up to 512 bytes");
  const bool own = person.name == by.name() && role == by.role();
  if (!own && by.role() != PersonRole::kEngineer) {
    return Fail(Code::kNotAllowed,
                fmt::format("{} is an inspector: persons are changed by an engineer", by.name()));
  }
  if (person.name == by.name() && role != by.role()) {
    return Fail(Code::kNotAllowed,
                fmt::format("{}: another engineer must change the own role", by.name()));
  }
  SecretKey secret;
  if (auto status = MakeKey(person, passphrase, secret); !status)
    return tl::unexpected(status.error());
  const EntryDraft draft = PersonDraft(person, by.name());
  auto added = impl_->AppendAll({}, {&draft, 1}, &by);
  if (!added) return tl::unexpected(added.error());
  return added->front();
}

Result<ArchiveEntry> Archive::RetirePerson(const std::string& name, const Signer& by) {
  auto persons = impl_->Persons();
  if (!persons) return tl::unexpected(persons.error());
  const auto found = persons->find(Utf8(name));
  if (found == persons->end() || !found->second.key.active)
    return Fail(Code::kNotFound, fmt::format("{}: has no active person {}", place(), Utf8(name)));
  if (by.role() != PersonRole::kEngineer) {
    return Fail(Code::kNotAllowed,
                fmt::format("{} is an inspector: persons are changed by an engineer", by.name()));
  }
  int engineers = 0;
  for (const auto& [other, known] : *persons)
    engineers += known.key.active && known.key.role == PersonRole::kEngineer && other != Utf8(name);
  if (engineers == 0)
    return Fail(Code::kUsage, fmt::format("{} is the last engineer; add another one first", name));
  PersonKey retired = found->second.key;
  retired.active = false;
  const EntryDraft draft = PersonDraft(retired, by.name());
  auto added = impl_->AppendAll({}, {&draft, 1}, &by);
  if (!added) return tl::unexpected(added.error());
  return added->front();
}

}  // namespace cutface
