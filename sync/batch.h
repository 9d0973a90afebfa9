#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/ledger/sqlite.h"

/// Many entries in few bytes, and back byte for byte.
///
/// The entries' wire format is taken apart without their schema: each field of each kind has a
/// column, and what the entries of a batch share (devices, words, shapes) is written once. Fields
/// that this version does not know travel like the others. An entry whose encoding is not the plain
/// one travels as it is. sync/PROTOCOL.md describes the bytes.
///
/// Decoding trusts nothing: every length is checked against what is left, and what comes out
/// against the bounds below, before memory is taken.
namespace chipfall {

constexpr std::size_t kMostBatchEntries = 200;
constexpr std::size_t kMostBatchBytes = 64 * 1024;  ///< of the entries themselves; >= one entry
/// Of the columns before compression: they may be a little longer than what they describe.
constexpr std::size_t kMostColumnBytes = 2 * kMostBatchBytes;

/// The bytes of a batch. At most kMostBatchEntries entries of together kMostBatchBytes.
OrError<std::string> encode_batch(std::span<const std::string> entries);

OrError<std::vector<std::string>> decode_batch(std::string_view batch);

}  // namespace chipfall
