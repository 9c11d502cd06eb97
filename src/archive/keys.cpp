#include "archive/keys.h"

#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <vector>

namespace cutface {
namespace {

constexpr unsigned long long kMostPasses = 16;
constexpr std::size_t kMostMemory = std::size_t{1} << 30;

// Ready before the first use; a second call only looks.
bool SodiumReady() { return sodium_init() >= 0; }

std::string Hex(const unsigned char* bytes, std::size_t size) {
  std::string hex(2 * size + 1, '\0');
  sodium_bin2hex(hex.data(), hex.size(), bytes, size);
  hex.pop_back();
  return hex;
}

bool FromHex(const std::string& hex, unsigned char* bytes, std::size_t size) {
  std::size_t got = 0;
  return hex.size() == 2 * size &&
         sodium_hex2bin(bytes, size, hex.data(), hex.size(), nullptr, &got, nullptr) == 0 &&
         got == size;
}

// Letters of UTF-8: bytes that do not continue one.
std::size_t Letters(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  }));
}

Status Derive(const PersonKey& person, const Passphrase& passphrase, SecretKey& secret,
              std::array<unsigned char, crypto_sign_PUBLICKEYBYTES>& made) {
  std::array<unsigned char, crypto_pwhash_SALTBYTES> salt{};
  if (!SodiumReady() || !FromHex(person.salt, salt.data(), salt.size()))
    return Fail(Code::kInternal, "the key of a person cannot be derived; the store's salt is none");
  std::array<unsigned char, crypto_sign_SEEDBYTES> seed{};
  const int derived = crypto_pwhash(seed.data(), seed.size(), passphrase.text().data(),
                                    passphrase.text().size(), salt.data(), person.cost.passes,
                                    person.cost.memory_bytes, crypto_pwhash_ALG_ARGON2ID13);
  if (derived == 0) crypto_sign_seed_keypair(made.data(), secret.bytes.data(), seed.data());
  sodium_memzero(seed.data(), seed.size());
  if (derived != 0) {
    return Fail(Code::kInternal,
                fmt::format("the passphrase cannot be checked: {} MiB of memory are needed",
                            person.cost.memory_bytes >> 20));
  }
  return {};
}

}  // namespace

Passphrase::~Passphrase() { sodium_memzero(text_.data(), text_.size()); }

// Copied, not moved: a short text stands inside the string, where a move would leave it.
// NOLINTNEXTLINE(performance-move-constructor-init)
Passphrase::Passphrase(Passphrase&& other) noexcept : text_(other.text_) {
  sodium_memzero(other.text_.data(), other.text_.size());
  other.text_.clear();
}

SecretKey::~SecretKey() { sodium_memzero(bytes.data(), bytes.size()); }

Signer::Signer(std::unique_ptr<Key> key) : key_(std::move(key)) {}
Signer::~Signer() = default;
Signer::Signer(Signer&&) noexcept = default;
Signer& Signer::operator=(Signer&&) noexcept = default;
const std::string& Signer::name() const { return key_->person.name; }
PersonRole Signer::role() const { return key_->person.role; }
std::string Signer::Sign(std::string_view text) const { return SignText(key_->secret, text); }

std::string_view PersonRoleName(PersonRole role) {
  return role == PersonRole::kEngineer ? "engineer" : "inspector";
}

Json PersonToJson(const PersonKey& person) {
  return {{"name", person.name},
          {"role", PersonRoleName(person.role)},
          {"state", person.active ? "active" : "retired"},
          {"key",
           {{"kind", "ed25519 from argon2id"},
            {"passes", person.cost.passes},
            {"memory_bytes", person.cost.memory_bytes},
            {"salt", person.salt},
            {"public", person.public_key}}}};
}

Result<PersonKey> PersonOf(const Json& body) {
  PersonKey person;
  person.name = TextOf(body, "name");
  const std::string role = TextOf(body, "role"), state = TextOf(body, "state");
  const auto key = body.find("key");
  const auto wrong = [](const char* what) {
    return Fail(Code::kJsonValue, fmt::format("person: {} is none", what));
  };
  if (person.name.empty()) return wrong("name");
  if (role != "engineer" && role != "inspector") return wrong("role");
  if (state != "active" && state != "retired") return wrong("state");
  if (key == body.end() || !key->is_object() || TextOf(*key, "kind") != "ed25519 from argon2id")
    return wrong("key");
  person.role = role == "engineer" ? PersonRole::kEngineer : PersonRole::kInspector;
  person.active = state == "active";
  person.salt = TextOf(*key, "salt");
  person.public_key = TextOf(*key, "public");
  std::array<unsigned char, crypto_sign_PUBLICKEYBYTES> bytes{};
  if (!FromHex(person.salt, bytes.data(), crypto_pwhash_SALTBYTES)) return wrong("salt");
  if (!FromHex(person.public_key, bytes.data(), bytes.size())) return wrong("public key");
  const auto passes = key->find("passes"), memory = key->find("memory_bytes");
  if (passes == key->end() || !passes->is_number_unsigned() || memory == key->end() ||
      !memory->is_number_unsigned())
    return wrong("cost");
  person.cost = {passes->get<unsigned long long>(), memory->get<std::size_t>()};
  if (person.cost.passes < crypto_pwhash_OPSLIMIT_MIN || person.cost.passes > kMostPasses ||
      person.cost.memory_bytes < crypto_pwhash_MEMLIMIT_MIN ||
      person.cost.memory_bytes > kMostMemory)
    return wrong("cost");
  return person;
}

Status MakeKey(PersonKey& person, const Passphrase& passphrase, SecretKey& secret) {
  if (!SodiumReady()) return Fail(Code::kInternal, "libsodium cannot be used on this machine");
  if (Letters(passphrase.text()) < kShortestPassphrase) {
    return Fail(Code::kUsage, fmt::format("the passphrase is too short: take {} characters or more",
                                          kShortestPassphrase));
  }
  person.salt = RandomHex(crypto_pwhash_SALTBYTES);
  std::array<unsigned char, crypto_sign_PUBLICKEYBYTES> made{};
  if (auto status = Derive(person, passphrase, secret, made); !status) return status;
  person.public_key = Hex(made.data(), made.size());
  return {};
}

Result<bool> OpenKey(const PersonKey& person, const Passphrase& passphrase, SecretKey& secret) {
  std::array<unsigned char, crypto_sign_PUBLICKEYBYTES> made{}, kept{};
  if (auto status = Derive(person, passphrase, secret, made); !status)
    return tl::unexpected(status.error());
  return FromHex(person.public_key, kept.data(), kept.size()) &&
         sodium_memcmp(made.data(), kept.data(), made.size()) == 0;
}

std::string SignText(const SecretKey& secret, std::string_view text) {
  std::array<unsigned char, crypto_sign_BYTES> signature{};
  crypto_sign_detached(signature.data(), nullptr,
                       reinterpret_cast<const unsigned char*>(text.data()), text.size(),
                       secret.bytes.data());
  return Hex(signature.data(), signature.size());
}

bool SignatureHolds(const std::string& public_key, std::string_view text,
                    const std::string& signature) {
  std::array<unsigned char, crypto_sign_PUBLICKEYBYTES> key{};
  std::array<unsigned char, crypto_sign_BYTES> bytes{};
  return SodiumReady() && FromHex(public_key, key.data(), key.size()) &&
         FromHex(signature, bytes.data(), bytes.size()) &&
         crypto_sign_verify_detached(bytes.data(),
                                     reinterpret_cast<const unsigned char*>(text.data()),
                                     text.size(), key.data()) == 0;
}

std::string RandomHex(std::size_t size) {
  CF_CHECK(SodiumReady());
  std::vector<unsigned char> bytes(size);
  randombytes_buf(bytes.data(), bytes.size());
  return Hex(bytes.data(), bytes.size());
}

}  // namespace cutface
