#include "preview/window/phone.h"

#include <algorithm>

#include <fmt/format.h>

namespace chipfall::window {

Phone::Phone(std::string called, Screen first, std::unique_ptr<Device> behind)
    : name(std::move(called)), screen(first), device(std::move(behind)) {
  member.draft.set_people(1);
  member.draft.set_leave_at("21:30");
  load_shop();
  ask_standing();
  ask_saving();
}

void Phone::ask(proto::Request request, Take take) {
  device->ask(std::move(request),
              [this, take = std::move(take)](const Result<proto::Response>& came) {
                if (came) return take(*came);
                trouble = came.error();
              });
}

/// Without a sheet yet nobody has done anything wrong: the screen waits for it.
void Phone::load_shop() {
  proto::Request request;
  request.mutable_list_shop();
  device->ask(request, [this](const Result<proto::Response>& came) {
    if (!came) return;
    shop = came->shop();
    if (!shop_known && screen == Screen::kCoordinator) ask_coordinator();
    shop_known = true;
  });
}

void Phone::plan() {
  proto::Request request;
  *request.mutable_wind_down()->mutable_draft() = member.draft;
  if (member.within_minutes > 0) {
    request.mutable_wind_down()->set_within_minutes(member.within_minutes);
  }
  device->ask(request, [this](const Result<proto::Response>& came) {
    if (member.started) return;
    member.list.reset();
    if (came) member.list = came->wind_down();
    if (!came) trouble = came.error();
  });
}

void Phone::draw_map() {
  proto::Request request;
  *request.mutable_draw_map()->mutable_draft() = member.draft;
  member.map.reset();
  ask(request, [this](const proto::Response& came) { member.map = came.map(); });
}

void Phone::ask_lock_up() {
  proto::Request request;
  proto::AskLockUp& asked = *request.mutable_lock_up();
  asked.set_people(closer.people);
  if (closer.begin_known) {
    asked.set_begin_at(
        fmt::format("{:02}:{:02}", closer.begin_minute / 60, closer.begin_minute % 60));
  }
  closer.as_of = device->changes();
  ask(request, [this](const proto::Response& came) { closer.list = came.lock_up(); });
}

void Phone::ask_coordinator() {
  proto::Request request;
  request.mutable_coordinator()->set_next_round_days(coordinator.next_round_days);
  ask(request, [this](const proto::Response& came) { coordinator.answer = came.coordinator(); });
  ask_standing();
}

void Phone::ask_standing() {
  proto::Request request;
  request.mutable_standing();
  ask(request, [this](const proto::Response& came) { standing = came.standing(); });
}

void Phone::ask_history() {
  proto::Request request;
  request.mutable_history()->set_most(30);
  ask(request, [this](const proto::Response& came) { history = came.history(); });
}

void Phone::ask_saving() {
  proto::Request request;
  request.mutable_saving();
  ask(request, [this](const proto::Response& came) { saving = came.saving(); });
}

bool Phone::record(proto::Record what, std::function<void(const proto::Recorded&)> then) {
  if (recording) return false;
  recording = true;
  what.set_member(member_name);
  proto::Request request;
  *request.mutable_record() = std::move(what);
  device->ask(request, [this, then = std::move(then)](const Result<proto::Response>& came) {
    recording = false;
    if (!came) {
      trouble = came.error();
      return;
    }
    saved = came->recorded().text();
    then(came->recorded());
    ask_saving();
    ask_standing();
  });
  return true;
}

bool Phone::look() {
  bool drawn = device->deliver();
  const std::uint64_t now = device->changes();
  if (now == shown_changes_) return drawn;
  shown_changes_ = now;
  load_shop();
  ask_standing();
  ask_saving();
  if (screen == Screen::kCoordinator && shop_known) ask_coordinator();
  if (screen == Screen::kHistory) ask_history();
  return true;
}

void Phone::go(Screen next) {
  // Going round in circles leads back the short way.
  const auto before = std::ranges::find(came_from, next);
  if (before != came_from.end()) {
    came_from.erase(before, came_from.end());
  } else if (next != screen) {
    came_from.push_back(screen);
  }
  screen = next;
  scrolls[next].offset = 0;
  trouble.clear();
}

void Phone::back() {
  trouble.clear();
  if (came_from.empty()) {
    screen = Screen::kHome;
    return;
  }
  screen = came_from.back();
  came_from.pop_back();
}

void Phone::home() {
  came_from.clear();
  screen = Screen::kHome;
  trouble.clear();
}

}  // namespace chipfall::window
