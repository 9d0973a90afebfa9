#include "sync/command_pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <memory>
#include <sstream>
#include <vector>

namespace chipfall {

namespace {

/// An option as people type it.
struct Flag {
  std::vector<std::string> names;    ///< "-h", "--help"; empty: takes its place by position
  std::string place;                 ///< of one without names
  std::string help, value;           ///< `value` is empty where none follows
  std::vector<std::string> choices;  ///< what the value may be, where that is a list
  bool required = false;
};

/// A command with what it takes; "chipfall record done" is the path of one.
struct Page {
  std::string path, help;
  std::vector<std::pair<std::string, std::string>> subcommands;  ///< with help
  std::vector<Flag> flags;
};

/// The words of "TEXT:{member,closer}".
std::vector<std::string> choices_in(const std::string& type) {
  const auto begin = type.find('{'), end = type.find('}');
  std::vector<std::string> words;
  if (begin == std::string::npos || end == std::string::npos) return words;
  std::istringstream list(type.substr(begin + 1, end - begin - 1));
  for (std::string word; std::getline(list, word, ',');) words.push_back(word);
  return words;
}

Flag flag_of(const CLI::Option& option) {
  Flag flag;
  for (const std::string& name : option.get_snames()) flag.names.push_back("-" + name);
  for (const std::string& name : option.get_lnames()) flag.names.push_back("--" + name);
  if (flag.names.empty()) flag.place = option.get_name();
  flag.help = option.get_description();
  flag.required = option.get_required();
  if (option.get_type_size() == 0) return flag;
  const std::string type = option.get_type_name();
  flag.choices = choices_in(type);
  flag.value = flag.choices.empty() ? type.substr(0, type.find(':')) : "WORD";
  return flag;
}

void add_pages(const CLI::App& app, const std::string& path, std::vector<Page>& pages) {
  Page page{path, app.get_description(), {}, {}};
  for (const CLI::Option* option : app.get_options({})) {
    if (!option->get_group().empty()) page.flags.push_back(flag_of(*option));
  }
  const auto subcommands =
      app.get_subcommands([](const CLI::App* one) { return !one->get_group().empty(); });
  for (const CLI::App* one : subcommands) {
    page.subcommands.emplace_back(one->get_name(), one->get_description());
  }
  pages.push_back(std::move(page));
  for (const CLI::App* one : subcommands) add_pages(*one, path + " " + one->get_name(), pages);
}

std::vector<Page> pages_of(const CLI::App& app) {
  std::vector<Page> pages;
  add_pages(app, app.get_name(), pages);
  return pages;
}

/// A name for a function of a shell.
std::string function_name(const std::string& command) {
  std::string name = "_" + command;
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
}

std::string joined(const std::vector<std::string>& words, const char* between) {
  return fmt::format("{}", fmt::join(words, between));
}

/// Inside single quotes.
std::string quoted(const std::string& text, const char* quote) {
  std::string safe;
  for (const char letter : text) letter == '\'' ? safe += quote : safe += letter;
  return "'" + safe + "'";
}

/// The lines of a `case` over paths that go on with a subcommand.
std::string steps(const std::vector<Page>& pages) {
  std::vector<std::string> known;
  for (const Page& page : pages) {
    if (page.path.find(' ') != std::string::npos) known.push_back('"' + page.path + '"');
  }
  return joined(known, " | ");
}

std::string bash_script(const std::string& command, const std::vector<Page>& pages) {
  const std::string function = function_name(command);
  std::string text = fmt::format(
      "# Completion of {0} for bash: put it where bash-completion looks, or source it.\n"
      "{1}() {{\n"
      "  local place={0} words= i\n"
      "  COMPREPLY=()\n"
      "  for ((i = 1; i < COMP_CWORD; ++i)); do\n"
      "    case \"$place ${{COMP_WORDS[i]}}\" in\n"
      "      {2}) place=\"$place ${{COMP_WORDS[i]}}\" ;;\n"
      "    esac\n"
      "  done\n"
      "  case \"$place ${{COMP_WORDS[COMP_CWORD - 1]}}\" in\n",
      command, function, steps(pages));
  for (const Page& page : pages) {
    for (const Flag& flag : page.flags) {
      if (flag.value.empty() || flag.names.empty()) continue;
      std::vector<std::string> after;
      for (const std::string& name : flag.names) {
        after.push_back(fmt::format("\"{} {}\"", page.path, name));
      }
      text += flag.choices.empty()
                  ? fmt::format("    {}) return ;;\n", joined(after, " | "))  // a file, by default
                  : fmt::format("    {}) words=\"{}\" ;;\n", joined(after, " | "),
                                joined(flag.choices, " "));
    }
  }
  text += "  esac\n  [[ -n $words ]] || case $place in\n";
  for (const Page& page : pages) {
    std::vector<std::string> words;
    for (const auto& [name, help] : page.subcommands) words.push_back(name);
    for (const Flag& flag : page.flags) {
      words.insert(words.end(), flag.names.begin(), flag.names.end());
      words.insert(words.end(), flag.choices.begin(),
                   flag.names.empty() ? flag.choices.end() : flag.choices.begin());
    }
    text += fmt::format("    \"{}\") words=\"{}\" ;;\n", page.path, joined(words, " "));
  }
  return text + fmt::format(
                    "  esac\n"
                    "  mapfile -t COMPREPLY < <(compgen -W \"$words\" -- "
                    "\"${{COMP_WORDS[COMP_CWORD]}}\")\n"
                    "}}\n"
                    "complete -o default -F {} {}\n",
                    function, command);
}

/// One word with its help, as _describe takes it.
std::string described(const std::string& word, const std::string& help) {
  return quoted(word + ":" + help, "'\\''");
}

std::string zsh_script(const std::string& command, const std::vector<Page>& pages) {
  const std::string function = function_name(command);
  // Not `path`: that is the shell's own.
  std::string text = fmt::format(
      "#compdef {0}\n"
      "{1}() {{\n"
      "  local place={0} word\n"
      "  local -a told\n"
      "  for word in ${{words[2,CURRENT-1]}}; do\n"
      "    case \"$place $word\" in\n"
      "      ({2}) place=\"$place $word\" ;;\n"
      "    esac\n"
      "  done\n"
      "  case \"$place ${{words[CURRENT-1]}}\" in\n",
      command, function, steps(pages));
  for (const Page& page : pages) {
    for (const Flag& flag : page.flags) {
      if (flag.value.empty()) continue;
      for (const std::string& name : flag.names) {
        text += flag.choices.empty()
                    ? fmt::format("    (\"{} {}\") _files; return ;;\n", page.path, name)
                    : fmt::format("    (\"{} {}\") compadd {}; return ;;\n", page.path, name,
                                  joined(flag.choices, " "));
      }
    }
  }
  text += "  esac\n  case $place in\n";
  for (const Page& page : pages) {
    std::vector<std::string> told;
    for (const auto& [name, help] : page.subcommands) told.push_back(described(name, help));
    for (const Flag& flag : page.flags) {
      for (const std::string& name : flag.names) told.push_back(described(name, flag.help));
      if (!flag.names.empty()) continue;
      for (const std::string& word : flag.choices) told.push_back(described(word, flag.help));
    }
    text += fmt::format("    (\"{}\") told=({}) ;;\n", page.path, joined(told, " "));
  }
  return text + fmt::format(
                    "  esac\n"
                    "  _describe -o '{0}' told\n"
                    "  _files\n"
                    "}}\n"
                    "if [[ $funcstack[1] == {1} ]]; then {1} \"$@\"; else compdef {1} {0}; fi\n",
                    command, function);
}

std::string fish_script(const std::string& command, const std::vector<Page>& pages) {
  std::string text = fmt::format("# Completion of {} for fish.\n", command);
  for (const Page& page : pages) {
    // Where this page is: each word of its path was typed, and no subcommand of its own.
    std::istringstream words(page.path);
    std::string word, when;
    words >> word;
    while (words >> word) {
      when += fmt::format("{}__fish_seen_subcommand_from {}", when.empty() ? "" : "; and ", word);
    }
    std::string further;
    for (const auto& [name, help] : page.subcommands) further += " " + name;
    if (!further.empty()) {
      when +=
          fmt::format("{}not __fish_seen_subcommand_from{}", when.empty() ? "" : "; and ", further);
    }
    const std::string head =
        fmt::format("complete -c {}{}", command, when.empty() ? "" : " -n '" + when + "'");
    for (const auto& [name, help] : page.subcommands) {
      text += fmt::format("{} -f -a {} -d {}\n", head, name, quoted(help, "\\'"));
    }
    for (const Flag& flag : page.flags) {
      std::string line = head;
      for (const std::string& name : flag.names) {
        line += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
      }
      if (flag.names.empty() && flag.choices.empty()) continue;
      if (!flag.value.empty() && !flag.names.empty()) line += " -r";
      if (!flag.choices.empty()) {
        line += fmt::format(" -f -a '{}'", joined(flag.choices, " "));
      }
      text += fmt::format("{} -d {}\n", line, quoted(flag.help, "\\'"));
    }
  }
  return text;
}

/// Text that roff leaves as it is.
std::string roff(const std::string& text) {
  std::string safe;
  for (const char letter : text) {
    if (letter == '\\') {
      safe += "\\e";
    } else if (letter == '-') {
      safe += "\\-";
    } else if ((letter == '.' || letter == '\'') && (safe.empty() || safe.back() == '\n')) {
      safe += "\\&";
      safe += letter;
    } else {
      safe += letter;
    }
  }
  return safe;
}

std::string roff_flag(const Flag& flag) {
  std::vector<std::string> names;
  for (const std::string& name : flag.names) names.push_back("\\fB" + roff(name) + "\\fR");
  std::string head = flag.names.empty() ? "\\fI" + roff(flag.place) + "\\fR" : joined(names, ", ");
  if (!flag.names.empty() && !flag.value.empty()) head += " \\fI" + roff(flag.value) + "\\fR";
  std::string help = flag.help;
  if (!flag.choices.empty()) help += fmt::format(" (one of {})", joined(flag.choices, ", "));
  if (flag.required) help += " (required)";
  return fmt::format(".TP\n{}\n{}\n", head, roff(help));
}

}  // namespace

std::string completion_script(const CLI::App& app, Shell shell) {
  const std::vector<Page> pages = pages_of(app);
  switch (shell) {
    case Shell::kBash:
      return bash_script(app.get_name(), pages);
    case Shell::kZsh:
      return zsh_script(app.get_name(), pages);
    case Shell::kFish:
      break;
  }
  return fish_script(app.get_name(), pages);
}

std::string manual_page(const CLI::App& app, const std::string& version) {
  const std::vector<Page> pages = pages_of(app);
  const std::string name = app.get_name();
  std::string title = name;
  for (char& letter : title) letter = letter >= 'a' && letter <= 'z' ? char(letter - 32) : letter;
  std::string text = fmt::format(
      ".TH {} 1 \"\" \"{} {}\"\n.SH NAME\n{} \\- {}\n.SH SYNOPSIS\n.B {}\n"
      ".I COMMAND\n[\\fIOPTIONS\\fR]\n.SH OPTIONS\n",
      roff(title), name, version, roff(name), roff(app.get_description()), roff(name));
  for (const Flag& flag : pages.front().flags) text += roff_flag(flag);
  text += ".SH COMMANDS\n";
  for (const Page& page : pages) {
    if (&page == &pages.front()) continue;
    text += fmt::format(".SS {}\n{}\n", roff(page.path.substr(name.size() + 1)), roff(page.help));
    for (const Flag& flag : page.flags) {
      if (flag.names != pages.front().flags.front().names) text += roff_flag(flag);  // not --help
    }
  }
  return text + fmt::format(".SH EXAMPLES AND EXIT CODES\n.nf\n{}\n.fi\n", roff(app.get_footer()));
}

void add_page_commands(CLI::App& app, const std::string& version,
                       const std::function<void(std::string page)>& chosen) {
  CLI::App* completion =
      app.add_subcommand("completion", "Print what a shell needs to complete this command");
  const auto shell = std::make_shared<std::string>();
  completion->add_option("shell", *shell, "The shell")
      ->required()
      ->check(CLI::IsMember({"bash", "zsh", "fish"}));
  completion->callback([&app, shell, chosen] {
    chosen(completion_script(app, *shell == "bash"  ? Shell::kBash
                                  : *shell == "zsh" ? Shell::kZsh
                                                    : Shell::kFish));
  });
  app.add_subcommand("manual-page", "Print this command's page for man")
      ->callback([&app, version, chosen] { chosen(manual_page(app, version)); });
}

}  // namespace chipfall
