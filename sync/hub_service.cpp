#include "sync/hub_service.h"

#include <unistd.h>

#include <boost/asio/buffer.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/local/datagram_protocol.hpp>
#include <charconv>
#include <cstdlib>

namespace chipfall {

namespace asio = boost::asio;

namespace {

std::string from_environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? std::string() : value;
}

std::int64_t number_of(const std::string& text) {
  std::int64_t number = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
  return read.ec == std::errc() && number > 0 ? number : 0;
}

}  // namespace

ServiceManager::ServiceManager() : socket_(from_environment("NOTIFY_SOCKET")) {
  if (socket_.starts_with('@')) socket_.front() = '\0';  // no file, but a name
  const std::string meant = from_environment("WATCHDOG_PID");
  if (meant.empty() || number_of(meant) == ::getpid()) {
    watchdog_ms_ = number_of(from_environment("WATCHDOG_USEC")) / 1'000;
  }
}

void ServiceManager::tell(std::string_view state) const {
  if (socket_.empty()) return;
  using Datagrams = asio::local::datagram_protocol;
  boost::system::error_code failure;
  asio::io_context io(1);
  Datagrams::socket from(io);
  try {
    const Datagrams::endpoint to(socket_);  // throws where the name is too long
    from.open(to.protocol(), failure);
    from.non_blocking(true, failure);
    from.send_to(asio::buffer(state.data(), state.size()), to, 0, failure);
  } catch (const boost::system::system_error&) {
    return;
  }
}

}  // namespace chipfall
