#pragma once

#include <cstdint>

/// What the core asks of the page around it: imports of the module "chipfall", which core.ts gives.
/// Sizes and places in a file are doubles, since JavaScript's numbers are; 2^53 bytes are enough.
///
/// A file is known by its name, is there when it has any bytes, and is locked by whoever opened the
/// folder. Results below 0 are failures.
extern "C" {

#define CHIPFALL_ASKS(name) __attribute__((import_module("chipfall"), import_name(#name))) extern

CHIPFALL_ASKS(now) double page_now();  ///< ms since 1970 in UTC
CHIPFALL_ASKS(random) std::int32_t page_random(std::uint8_t* bytes, std::uint32_t size);

constexpr std::int32_t kPageFailed = -1;
constexpr std::int32_t kPageFull = -2;  ///< no room; writing and cutting only

/// The file's number, from 0.
CHIPFALL_ASKS(open) std::int32_t page_open(const char* name, std::uint32_t size);
CHIPFALL_ASKS(close) void page_close(std::int32_t file);
CHIPFALL_ASKS(exists) std::int32_t page_exists(const char* name, std::uint32_t size);
CHIPFALL_ASKS(remove) std::int32_t page_remove(const char* name, std::uint32_t size);
/// How many bytes it read; fewer than asked for at the file's end only.
CHIPFALL_ASKS(read)
std::int32_t page_read(std::int32_t file, void* to, std::uint32_t size, double from);
CHIPFALL_ASKS(write)
std::int32_t page_write(std::int32_t file, const void* bytes, std::uint32_t size, double at);
CHIPFALL_ASKS(truncate) std::int32_t page_truncate(std::int32_t file, double size);
/// What was written is on the disk when it answers 0.
CHIPFALL_ASKS(flush) std::int32_t page_flush(std::int32_t file);
CHIPFALL_ASKS(size) double page_size(std::int32_t file);

#undef CHIPFALL_ASKS
}
