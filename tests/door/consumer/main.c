/* A program outside of the project, with what is installed and nothing else. */
#include <chipfall.h>
#include <string.h>

static int64_t still(void* user) {
  (void)user;
  return 1780000000000;
}

int main(void) {
  cf_options options;
  cf_door* door = 0;
  cf_bytes answer;
  static const uint8_t saving[] = {0xD2, 0x01, 0x00}; /* Request.saving, field 26 */
  memset(&options, 0, sizeof options);
  options.size = sizeof options;
  options.clock = still;
  if (cf_abi_version() != CF_ABI_VERSION) return 1;
  if (cf_open(&options, &door, 0) != CF_OK) return 2;
  if (cf_call(door, saving, sizeof saving, &answer) != CF_OK || answer.size == 0) return 3;
  cf_free(&answer);
  cf_close(door);
  return cf_live_handles() == 0 ? 0 : 4;
}
