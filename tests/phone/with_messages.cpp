#include "tests/phone/with_messages.h"

#include <google/protobuf/text_format.h>

#include <cstdio>
#include <cstdlib>

#include "core/proto/session.pb.h"
#include "core/proto/shop.pb.h"

namespace chipfall::test {
namespace {

template <typename Message>
void put_message(proto::SheetText& text) {
  if (text.has_message()) return;
  Message message;
  if (!google::protobuf::TextFormat::ParseFromString(text.content(), &message)) {
    std::fprintf(stderr, "%s cannot be read\n", text.name().c_str());
    std::exit(1);
  }
  text.set_message(message.SerializeAsString());
  text.clear_content();
}

void put_messages(proto::PlanWindDown& draft) {
  if (draft.has_session_file()) put_message<proto::Session>(*draft.mutable_session_file());
  if (draft.has_state_file()) put_message<proto::ShopState>(*draft.mutable_state_file());
  if (draft.has_now_file()) put_message<proto::CrewNow>(*draft.mutable_now_file());
}

}  // namespace

proto::Request with_messages(proto::Request request) {
  if (request.has_load_sheet()) {
    put_message<proto::ShopSheet>(*request.mutable_load_sheet()->mutable_sheet());
  }
  if (request.has_check_session()) put_message<proto::Session>(*request.mutable_check_session());
  if (request.has_check_state()) put_message<proto::ShopState>(*request.mutable_check_state());
  if (request.has_wind_down()) put_messages(*request.mutable_wind_down());
  if (request.has_draw_map()) put_messages(*request.mutable_draw_map());
  if (request.has_record() && request.record().has_session()) {
    put_messages(*request.mutable_record()->mutable_session());
  }
  return request;
}

}  // namespace chipfall::test
