#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The two halves of a batch: columns of entries, and columns in few bytes.
namespace chipfall {

/// The columns of the entries, one after the other, behind their number and sizes.
std::string columns_of(std::span<const std::string> entries);
/// The entries again; nothing where columns do not fit together, or the entries would be more than
/// a batch may have.
std::optional<std::vector<std::string>> entries_of(std::string_view columns);

/// Zstandard (RFC 8878).
std::string squeeze(std::string_view bytes);
/// Nothing unless it expands to exactly `size` bytes; no more memory is taken than that and the
/// window, which is not over it.
std::optional<std::string> expand(std::string_view bytes, std::size_t size);

}  // namespace chipfall
