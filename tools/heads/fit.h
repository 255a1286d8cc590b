// Fits all weights of the head finder.
#pragma once
#include <string>
#include <vector>

#include "head_weights.h"
#include "sample.h"

namespace burstsieve::heads {

struct FitOptions {
  std::size_t units = 0;     // of the scorer of places; 0: plain logistic regression
  int epochs = 10;           // over its examples, in each of three rounds
  float decay = 1e-3f;       // of its weights
  float real = 1;            // weight of a cut-out against a generated frame
  double hidden_share = .1;  // of the frames whose head is or could be hidden: what a season is taken to hold
  std::uint64_t seed = 5;
};

// Places first, in two halves (by burst, or bird) and then on all; frames and bursts on what each half's
// scorer says about the other half, since every scorer flatters what it was fitted to.
subject::HeadWeights fit(const std::vector<Sample>& samples, const FitOptions& options);

// The input of find_head() for a sample; `true_mask`: the animal's own outline rather than the cells.
subject::HeadInput input_of(const Sample& s, bool true_mask);

// src/subject/head_weights.cpp
std::string source_of(const subject::HeadWeights& weights, const std::string& how);

}  // namespace burstsieve::heads
