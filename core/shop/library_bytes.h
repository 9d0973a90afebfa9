#pragma once

namespace chipfall {

/// `checklists/*.textproto` encoded as one `chipfall.proto.Library`, made by the build.
extern const unsigned char kLibraryBytes[];
extern const int kLibrarySize;

}  // namespace chipfall
