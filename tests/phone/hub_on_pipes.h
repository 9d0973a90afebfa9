#pragma once

namespace chipfall::test {

/// A shop's hub in memory, on standard input and output, for phones that have no socket here. It is
/// the hub's own side of the protocol, as the real hub runs it; a program gives it connections.
///
/// Each message of either direction: a kind, the connection's number, the bytes' length in four
/// bytes, the lowest first, the bytes. In comes a connection ('O', then all its messages 'M', 'C'
/// when it is closed) or the wish for a code ('J', bytes: the role); out come messages ('M'), 'C'
/// where the hub closes, the code ('J'), and after each one that came in 'E': nothing more follows.
/// Ends with its input.
int hub_on_pipes();

}  // namespace chipfall::test
