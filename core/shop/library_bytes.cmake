# Joins encoded library parts into a C++ array: cmake -DPARTS="a;b" -DOUT=file.cpp -P this
set(hex "")
foreach(part ${PARTS})
  file(READ ${part} more HEX)
  string(APPEND hex "${more}")
endforeach()
# Eight bytes a line, then a comma a byte.
string(REGEX REPLACE "(................)" "\\1\n" hex "${hex}")
string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
file(WRITE ${OUT} "#include \"core/shop/library_bytes.h\"\n
namespace chipfall {
const unsigned char kLibraryBytes[] = {\n${bytes}};
const int kLibrarySize = sizeof kLibraryBytes;
}  // namespace chipfall\n")
