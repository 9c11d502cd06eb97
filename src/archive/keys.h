// Keys that a passphrase opens: Argon2id to an Ed25519 pair (libsodium).
#pragma once

#include <array>
#include <memory>
#include <string>
#include <string_view>

#include "archive/chain.h"
#include "cutface/archive.h"

namespace cutface {

// What an entry of kind "person" holds.
struct PersonKey {
  std::string name;
  PersonRole role = PersonRole::kInspector;
  bool active = true;
  std::string salt, public_key;  // hex
  KeyCost cost;
};
Json PersonToJson(const PersonKey& person);
// Errors: kJsonValue. Costs beyond what this program would ever make are refused: a body that asks
// for a terabyte must not be obeyed.
Result<PersonKey> PersonOf(const Json& body);

// The secret half; wiped when it goes.
struct SecretKey {
  SecretKey() = default;
  ~SecretKey();
  SecretKey(const SecretKey&) = delete;
  SecretKey& operator=(const SecretKey&) = delete;
  std::array<unsigned char, 64> bytes{};
};

// Fills salt and public_key anew. Errors: kUsage (too short), kInternal (no memory).
Status MakeKey(PersonKey& person, const Passphrase& passphrase, SecretKey& secret);
// Whether the passphrase is the person's; compared in constant time. Errors: kInternal.
Result<bool> OpenKey(const PersonKey& person, const Passphrase& passphrase, SecretKey& secret);
std::string SignText(const SecretKey& secret, std::string_view text);  // hex
bool SignatureHolds(const std::string& public_key, std::string_view text,
                    const std::string& signature);
std::string RandomHex(std::size_t bytes);

struct Signer::Key {
  PersonKey person;
  SecretKey secret;
};

}  // namespace cutface
