# Takes out of protobuf's generated code what it only writes into its log, which a phone has not: the
# names of messages and fields, and the check of what it writes itself, which is logged and changes
# no byte. What is read must be UTF-8 as before: the parsers check that by their tables.
#
# cmake -DFROM=STEM -DTO=STEM -P unnamed_messages.cmake: of STEM.pb.cc and STEM.pb.h.
foreach(end .pb.h .pb.cc)
  file(READ ${FROM}${end} text)
  # The table's names: a length for each name, to a multiple of eight, and then the names. All of
  # no length: protobuf says "" for them.
  string(REGEX REPLACE "TcParseTable<([0-9]+), ([0-9]+), ([0-9]+), [0-9]+, ([0-9]+)>"
    "TcParseTable<\\1, \\2, \\3, (\\2 + 8) / 8 * 8, \\4>" text "${text}")
  string(REGEX REPLACE "{{\n    \"[^}]*\"\n  }},\n};" "{{}},\n};" text "${text}")
  string(REGEX REPLACE "std::string ([A-Za-z_]+)::GetTypeName\\(\\) const {\n  return \"[A-Za-z.]+\";"
    "std::string \\1::GetTypeName() const {\n  return {};" text "${text}")
  string(REGEX REPLACE
    "::PROTOBUF_NAMESPACE_ID::internal::WireFormatLite::VerifyUtf8String\\([^;]*WireFormatLite::SERIALIZE,[^;]*\\);"
    "" text "${text}")
  if(end STREQUAL .pb.cc AND text MATCHES "\"chipfall[^\n]*|[^\n]*VerifyUtf8String[^\n]*")
    message(FATAL_ERROR "${FROM}${end}: protoc writes this otherwise than it did: ${CMAKE_MATCH_0}")
  endif()
  file(WRITE ${TO}${end} "${text}")
endforeach()
