// Agreement of verdicts. "not proven" is a category of its own: two persons agree when both say it.
#include <algorithm>
#include <map>
#include <set>

#include "study/internal.h"

namespace cutface {
namespace {

// Verdicts of each person for each piece, in the readings' order.
using Verdicts = std::map<std::string, std::map<std::string, std::vector<std::string>>>;

std::vector<std::string> NamesOf(const StudySubject& subject, std::string StudyReading::*field) {
  std::vector<std::string> names;
  for (const StudyReading& reading : subject.readings) {
    const std::string& name = reading.*field;
    if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
  }
  return names;
}

std::vector<int> CountsOf(const std::vector<std::string>& chosen,
                          const std::vector<std::string>& categories) {
  std::vector<int> counts(categories.size(), 0);
  for (const std::string& word : chosen) {
    const auto found = std::find(categories.begin(), categories.end(), word);
    ++counts[static_cast<std::size_t>(found - categories.begin())];
  }
  return counts;
}

class Agreement {
 public:
  explicit Agreement(SubjectStudy& out) : out_(out) {
    for (const StudyReading& reading : out.subject.readings) {
      if (reading.verdict.empty() || reading.verdict == "not judged") continue;
      by_[reading.person][reading.piece].push_back(reading.verdict);
      if (!reading.true_verdict.empty()) truth_[reading.piece] = reading.true_verdict;
      if (std::find(words_.begin(), words_.end(), reading.verdict) == words_.end())
        words_.push_back(reading.verdict);
    }
    pieces_ = NamesOf(out.subject, &StudyReading::piece);
    persons_ = NamesOf(out.subject, &StudyReading::person);
    std::erase_if(persons_, [&](const std::string& person) { return !by_.contains(person); });
  }

  void Fill() {
    for (const std::string& person : persons_) AddSelf(person);
    for (std::size_t a = 0; a < persons_.size(); ++a)
      for (std::size_t b = a + 1; b < persons_.size(); ++b) AddPair(persons_[a], persons_[b]);
    if (persons_.size() > 2) AddAll();
    for (const std::string& person : persons_) AddTruth(person);
  }

 private:
  static std::string Name(const std::string& person) {
    return person.empty() ? "unnamed person" : person;
  }

  void Keep(KappaFigure figure, std::string between) {
    figure.between = std::move(between);
    out_.kappas.push_back(std::move(figure));
  }

  void AddSelf(const std::string& person) {
    std::vector<std::vector<int>> counts;
    for (const std::string& piece : pieces_) {
      const std::vector<std::string>& chosen = by_[person][piece];
      if (chosen.size() < 2) continue;
      if (!counts.empty() && chosen.size() != trials_) continue;
      trials_ = chosen.size();
      counts.push_back(CountsOf(chosen, words_));
    }
    if (counts.size() >= 2) Keep(FleissKappa(counts), Name(person) + " with itself");
  }

  void AddPair(const std::string& one, const std::string& other) {
    std::vector<std::string> first, second;
    for (const std::string& piece : pieces_) {
      const auto& a = by_[one][piece];
      const auto& b = by_[other][piece];
      for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) {
        first.push_back(a[i]);
        second.push_back(b[i]);
      }
    }
    if (first.size() >= 2) Keep(CohenKappa(first, second), Name(one) + ", " + Name(other));
  }

  void AddAll() {
    std::vector<std::vector<int>> counts;
    std::size_t each = 0;
    for (const std::string& piece : pieces_) {
      std::vector<std::string> chosen;
      for (const std::string& person : persons_)
        chosen.insert(chosen.end(), by_[person][piece].begin(), by_[person][piece].end());
      if (counts.empty()) each = chosen.size();
      if (chosen.size() == each && each >= 2) counts.push_back(CountsOf(chosen, words_));
    }
    if (counts.size() >= 2) Keep(FleissKappa(counts), "all persons");
  }

  void AddTruth(const std::string& person) {
    std::vector<std::string> said, truth;
    for (const std::string& piece : pieces_) {
      const auto known = truth_.find(piece);
      if (known == truth_.end()) continue;
      for (const std::string& word : by_[person][piece]) {
        said.push_back(word);
        truth.push_back(known->second);
      }
    }
    if (said.size() >= 2) Keep(CohenKappa(said, truth), Name(person) + " with the reference");
  }

  SubjectStudy& out_;
  Verdicts by_;
  std::map<std::string, std::string> truth_;
  std::vector<std::string> words_, pieces_, persons_;
  std::size_t trials_ = 0;
};

void Finish(KappaFigure& figure) {
  if (figure.by_chance < 1 - 1e-12)
    figure.kappa = (figure.agreement - figure.by_chance) / (1 - figure.by_chance);
}

}  // namespace

KappaFigure CohenKappa(std::span<const std::string> first, std::span<const std::string> second) {
  CF_CHECK(first.size() == second.size() && !first.empty());
  KappaFigure figure;
  figure.n = first.size();
  const double n = static_cast<double>(first.size());
  std::map<std::string, std::pair<double, double>> shares;
  for (std::size_t i = 0; i < first.size(); ++i) {
    figure.agreement += (first[i] == second[i] ? 1 : 0) / n;
    shares[first[i]].first += 1 / n;
    shares[second[i]].second += 1 / n;
  }
  for (const auto& [word, share] : shares) figure.by_chance += share.first * share.second;
  Finish(figure);
  return figure;
}

KappaFigure FleissKappa(std::span<const std::vector<int>> counts) {
  CF_CHECK(!counts.empty());
  KappaFigure figure;
  figure.n = counts.size();
  const double pieces = static_cast<double>(counts.size());
  std::vector<double> shares(counts.front().size(), 0);
  for (const std::vector<int>& piece : counts) {
    double each = 0, squares = 0;
    for (std::size_t c = 0; c < piece.size(); ++c) {
      each += piece[c];
      squares += static_cast<double>(piece[c]) * piece[c];
    }
    CF_CHECK(each >= 2);
    figure.agreement += (squares - each) / (each * (each - 1)) / pieces;
    for (std::size_t c = 0; c < piece.size(); ++c) shares[c] += piece[c] / each / pieces;
  }
  for (double share : shares) figure.by_chance += share * share;
  Finish(figure);
  return figure;
}

void StudyVerdicts(SubjectStudy& out) { Agreement(out).Fill(); }

}  // namespace cutface
