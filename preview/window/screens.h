#pragma once

#include "preview/window/phone.h"

/// One function a screen: draws it with the pen, and does what was tapped. They show what the door
/// answered and compute nothing.
namespace chipfall::window {

void draw_screen(Pen& pen, Phone& phone);  ///< whichever the phone is at

void home_screen(Pen& pen, Phone& phone);

void machines_screen(Pen& pen, Phone& phone);
void use_screen(Pen& pen, Phone& phone);
void stock_screen(Pen& pen, Phone& phone);
void crew_screen(Pen& pen, Phone& phone);
void list_screen(Pen& pen, Phone& phone);
void finish_screen(Pen& pen, Phone& phone);
void map_screen(Pen& pen, Phone& phone);

void reason_screen(Pen& pen, Phone& phone);
void bins_screen(Pen& pen, Phone& phone);
void bin_seen_screen(Pen& pen, Phone& phone);
void history_screen(Pen& pen, Phone& phone);

void evening_screen(Pen& pen, Phone& phone);
void route_screen(Pen& pen, Phone& phone);
void sign_off_screen(Pen& pen, Phone& phone);
void closed_screen(Pen& pen, Phone& phone);

void coordinator_screen(Pen& pen, Phone& phone);

/// The coordinator's four parts side by side, for a wide window.
void draw_wide(Phone& phone, Type& type, Hands& hands, const Rect& at);

// -- What several screens have in common.

/// What went wrong with the last thing asked, in the door's words, with what to do; nothing else.
void trouble_part(Pen& pen, Phone& phone);
/// The sentences that no earlier call was given.
struct Cautions {
  std::set<std::string> said;
  std::string fresh(const std::string& caution);
};
std::string waiting_words(const Phone& phone);

void bins_part(Pen& pen, Phone& phone);
void round_part(Pen& pen, Phone& phone);
void notices_part(Pen& pen, Phone& phone);
void minutes_part(Pen& pen, Phone& phone);

}  // namespace chipfall::window
