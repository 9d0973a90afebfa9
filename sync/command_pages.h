#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <iosfwd>
#include <string>

/// What a command's own table of options also gives: completion for shells, and its manual page. So
/// neither can fall behind.
namespace chipfall {

enum class Shell { kBash, kZsh, kFish };

/// A script that completes subcommands, options and the words that an option takes.
std::string completion_script(const CLI::App& app, Shell shell);

/// The page for man(1), in the language of man(7).
std::string manual_page(const CLI::App& app, const std::string& version);

/// Adds `completion SHELL` and `manual-page`, which print these. `chosen` is called with what to
/// print; `app` outlives the parsing.
void add_page_commands(CLI::App& app, const std::string& version,
                       const std::function<void(std::string page)>& chosen);

}  // namespace chipfall
