#include <gmock/gmock.h>

#include "archive/keys.h"
#include "archive/stores.h"

namespace cutface {
namespace {

using testing::HasSubstr;

// RFC 8032, section 7.1, TEST 1 and TEST 2 (values from memory; a wrong digit would fail).
TEST(Seals, SignaturesAreThoseOfRfc8032) {
  const std::string key = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
  const std::string signature =
      "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9"
      "b4"
      "6bd25bf5f0595bbe24655141438e7a100b";
  EXPECT_TRUE(SignatureHolds(key, "", signature));
  EXPECT_FALSE(SignatureHolds(key, "x", signature));
  EXPECT_TRUE(SignatureHolds("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
                             "\x72",
                             "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac"
                             "1e43e15996e458f3613d0f11d"
                             "8c387b2eaeb4302aeeb00d291612bb0c00"));
}

TEST_F(StoreTest, OnlyTheRightPassphraseUnlocksAndWrongOnesAreRecorded) {
  Archive store = Started();
  EXPECT_THAT(store.Unlock("I. Measure", Passphrase("polish then measure!")),
              FailsWith(Code::kNotAllowed));
  EXPECT_THAT(store.Unlock("Nobody", Passphrase(kInspectorPhrase)), FailsWith(Code::kNotAllowed));
  ArchiveQuery refused;
  refused.kind = "refused";
  const auto entries = store.Find(refused);
  ASSERT_EQ(entries->size(), 2u);
  EXPECT_EQ((*entries)[0].who, "I. Measure");
  EXPECT_EQ(Inspector(store).role(), PersonRole::kInspector);
  EXPECT_TRUE(store.Verify()->Sound());
}

TEST_F(StoreTest, AfterFiveWrongPassphrasesAPersonWaitsWhicheverWayTheClockGoes) {
  auto now = std::make_shared<std::string>("2026-03-02T10:00:00Z");
  ArchiveOptions options = QuickOptions();
  options.now = [now] { return *now; };
  Archive store = Started(At("s"), options);
  for (int i = 0; i < kWrongInARow; ++i)
    EXPECT_THAT(store.Unlock("I. Measure", Passphrase("wrong and wrong")),
                FailsWith(Code::kNotAllowed));
  const auto right = [&] { return store.Unlock("I. Measure", Passphrase(kInspectorPhrase)); };
  EXPECT_THAT(right(), FailsWith(Code::kNotAllowed));
  *now = "2026-03-02T09:59:00Z";
  EXPECT_THAT(right(), FailsWith(Code::kNotAllowed));
  EXPECT_THAT(store.Unlock("E. Method", Passphrase(kEngineerPhrase)), IsOk());
  *now = "2026-03-02T10:15:00Z";
  EXPECT_THAT(right(), IsOk());
}

TEST_F(StoreTest, AnInspectorChangesNeitherPersonsNorMethods) {
  Archive store = Started();
  const Signer inspector = Inspector(store);
  const Passphrase other("a third passphrase");
  EXPECT_THAT(store.SetPerson("X", PersonRole::kInspector, other, inspector),
              FailsWith(Code::kNotAllowed));
  EXPECT_THAT(store.SetPerson("I. Measure", PersonRole::kEngineer, other, inspector),
              FailsWith(Code::kNotAllowed));
  EXPECT_THAT(store.RetirePerson("E. Method", inspector), FailsWith(Code::kNotAllowed));
  const std::string drawing = Write("part.design.json", "{}");
  EXPECT_THAT(store.AddMethod("drawing", drawing, {}, inspector), FailsWith(Code::kNotAllowed));
  EXPECT_EQ(store.Head()->entries, 3);
  EXPECT_THAT(store.AddMethod("drawing", drawing, {}, Engineer(store)), IsOk());
}

TEST_F(StoreTest, APassphraseIsChangedByItsOwnerAndEarlierSealsStillHold) {
  Archive store = Started();
  const ArchiveEntry result = Add(store, ResultOf("B-07"));
  const Signer before = Inspector(store);
  ASSERT_THAT(store.Sign(std::vector{result.seq}, SignatureMeaning::kMeasured, before), IsOk());
  ASSERT_THAT(store.SetPerson("I. Measure", PersonRole::kInspector,
                              Passphrase("another passphrase"), before),
              IsOk());
  EXPECT_THAT(store.Unlock("I. Measure", Passphrase(kInspectorPhrase)),
              FailsWith(Code::kNotAllowed));
  // The key that was unlocked before is worth nothing any more.
  const ArchiveEntry second = Add(store, ResultOf("B-08"));
  EXPECT_THAT(store.Sign(std::vector{second.seq}, SignatureMeaning::kMeasured, before),
              FailsWith(Code::kNotAllowed));
  EXPECT_EQ(Problems(*store.Verify()), "");
}

TEST_F(StoreTest, ARetiredPersonSignsNoMoreAndTheLastEngineerStays) {
  Archive store = Started();
  const Signer engineer = Engineer(store);
  EXPECT_THAT(store.RetirePerson("E. Method", engineer), FailsWith(Code::kUsage));
  EXPECT_THAT(store.RetirePerson("Nobody", engineer), FailsWith(Code::kNotFound));
  ASSERT_THAT(store.RetirePerson("I. Measure", engineer), IsOk());
  EXPECT_THAT(store.Unlock("I. Measure", Passphrase(kInspectorPhrase)),
              FailsWith(Code::kNotAllowed));
  const auto people = store.People();
  ASSERT_EQ(people->size(), 2u);
  EXPECT_FALSE((*people)[1].active);
  EXPECT_EQ(Problems(*store.Verify()), "");
}

TEST_F(StoreTest, APersonWhoseKeyWouldCostATerabyteIsDamageAndIsNotObeyed) {
  { Started(); }
  BackDoor(At("lab.records"),
           std::string(kNoTriggers) +
               "UPDATE cutface_entries SET body = replace(body, '\"memory_bytes\":8192', "
               "'\"memory_bytes\":1099511627776') WHERE seq = 3;");
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  ASSERT_THAT(store, IsOk());
  EXPECT_THAT(store->Unlock("I. Measure", Passphrase(kInspectorPhrase)),
              FailsWith(Code::kRecordsDamaged));
}

}  // namespace
}  // namespace cutface
