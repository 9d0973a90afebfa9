#pragma once

#include <string>

#include "core/shop/shop.h"

/// Figures as people read them, in the shop's units.
namespace chipfall {

std::string say_mass(double grams, Units units);     ///< 85 g, 1.4 kg; 3.0 oz, 3.1 lb
std::string say_length(double metres, Units units);  ///< 2.6 m; 8 ft 6 in
std::string say_area(double square_metres, Units units);
std::string say_volume(double cubic_metres, Units units);  ///< 38 L; 10 gal
std::string say_load(double g_per_m2, Units units);        ///< 34 g/m2; 7.0 lb/1000 ft2
std::string say_depth(double mm, Units units);             ///< 0.40 mm; 1/64 in as 0.016 in
std::string say_speed(double m_per_s, Units units);        ///< 17 m/s; 3350 fpm
std::string say_minutes(double minutes);                   ///< rounded up to whole minutes, "1 min"
/// To the half minute, so that a list's figures add up to about its total: "½ min", "2½ min".
std::string say_half_minutes(double minutes);
/// How long ago, roughly: "just now", "25 min ago", "2 h ago", "3 days ago", "5 weeks ago".
std::string say_age(double minutes);
std::string say_percent(double share);

/// Replaces every `{key}` in a text.
std::string fill_in(std::string text, const std::string& key, const std::string& value);

/// The sentences of a text, each with its full stop.
std::vector<std::string> sentences(const std::string& text);

/// Adds to a text those sentences of another that it does not have yet.
void add_sentences(const std::string& more, std::string& text);

/// "a", "a and b", "a, b and c".
std::string join(const std::vector<std::string>& items);

}  // namespace chipfall
