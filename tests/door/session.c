/* A shell in C99: a whole session through core/door/chipfall.h, with protobuf written by hand.
 * usage: door_session_c SHEET. Silent and 0 when all went right. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/door/chipfall.h"

static int failures = 0;

#define CHECK(what)                                              \
  do {                                                           \
    if (!(what)) {                                               \
      fprintf(stderr, "session.c:%d: not so: %s\n", __LINE__, #what); \
      ++failures;                                                \
    }                                                            \
  } while (0)

/* Serialized protobuf in the making. */
typedef struct Writer {
  uint8_t bytes[1 << 18];
  size_t size;
} Writer;

static void put_varint(Writer* to, uint64_t value) {
  while (value >= 0x80) {
    to->bytes[to->size++] = (uint8_t)(value | 0x80);
    value >>= 7;
  }
  to->bytes[to->size++] = (uint8_t)value;
}

static void put_bytes(Writer* to, unsigned field, const void* bytes, size_t size) {
  put_varint(to, (uint64_t)field << 3 | 2);
  put_varint(to, size);
  if (size > 0) memcpy(to->bytes + to->size, bytes, size);
  to->size += size;
}

static void put_text(Writer* to, unsigned field, const char* text) {
  put_bytes(to, field, text, strlen(text));
}

static void put_number(Writer* to, unsigned field, uint64_t value) {
  put_varint(to, (uint64_t)field << 3);
  put_varint(to, value);
}

static void put_double(Writer* to, unsigned field, double value) {
  uint64_t bits;
  int i;
  memcpy(&bits, &value, sizeof bits);
  put_varint(to, (uint64_t)field << 3 | 1);
  for (i = 0; i < 8; ++i) to->bytes[to->size++] = (uint8_t)(bits >> (8 * i));
}

/* Wraps what was written so far into a field. */
static void wrap(Writer* it, unsigned field) {
  static Writer inner;
  memcpy(&inner, it, sizeof inner);
  it->size = 0;
  put_bytes(it, field, inner.bytes, inner.size);
}

static int contains(const cf_bytes* bytes, const char* text) {
  const size_t size = strlen(text);
  uint64_t i;
  for (i = 0; i + size <= bytes->size; ++i) {
    if (memcmp(bytes->data + i, text, size) == 0) return 1;
  }
  return 0;
}

/* Field 3 of Response: the mistakes. It stands before every answer, after format and number. */
static int has_mistakes(const cf_bytes* response) {
  return response->size > 2 && response->data[2] == (3 << 3 | 2);
}

static int64_t now_ms = 1780000000000; /* in May 2026 */
static int64_t test_clock(void* user) {
  ++*(int*)user;
  return now_ms;
}

static int32_t test_random(void* user, uint8_t* bytes, uint64_t size) {
  uint64_t i;
  (void)user;
  for (i = 0; i < size; ++i) bytes[i] = (uint8_t)rand();
  return 0;
}

static int released = 0;
static void test_release(void* user) {
  (void)user;
  ++released;
}

static cf_bytes ask(cf_door* door, const Writer* request) {
  cf_bytes response;
  CHECK(cf_call(door, request->bytes, request->size, &response) == CF_OK);
  return response;
}

/* Asks and wants no mistakes; `part` must stand in the answer. */
static void sure(cf_door* door, const Writer* request, const char* part) {
  cf_bytes response = ask(door, request);
  if (has_mistakes(&response) || !contains(&response, part)) {
    fprintf(stderr, "wanted \"%s\" in: %.*s\n", part, (int)response.size, (char*)response.data);
    ++failures;
  }
  cf_free(&response);
}

static char* read_whole(const char* path) {
  static char text[1 << 17];
  FILE* file = fopen(path, "rb");
  size_t size;
  if (file == NULL) return NULL;
  size = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  text[size] = 0;
  return text;
}

static cf_options options_for(const char* folder, int* calls) {
  cf_options options;
  memset(&options, 0, sizeof options);
  options.size = (uint32_t)sizeof options;
  options.data_folder = folder;
  options.data_folder_size = folder == NULL ? 0 : strlen(folder);
  options.clock = test_clock;
  options.random = test_random;
  options.user = calls;
  options.release_user = test_release;
  return options;
}

static void misuse_is_refused(void) {
  int calls = 0;
  cf_options options = options_for(NULL, &calls);
  cf_door* door = (cf_door*)&calls;
  cf_bytes bytes = {NULL, 0};
  uint64_t changes = 0;
  CHECK(cf_open(NULL, &door, &bytes) == CF_BAD_ARGUMENT);
  CHECK(door == NULL);
  CHECK(cf_open(&options, NULL, &bytes) == CF_BAD_ARGUMENT);
  options.size = 4;
  CHECK(cf_open(&options, &door, NULL) == CF_BAD_ARGUMENT);
  options = options_for(NULL, &calls);
  options.clock = NULL;
  CHECK(cf_open(&options, &door, NULL) == CF_BAD_ARGUMENT);
  options = options_for(NULL, &calls);
  options.flags = 1u << 31;
  CHECK(cf_open(&options, &door, NULL) == CF_BAD_ARGUMENT);
  options = options_for(NULL, &calls);
  options.data_folder_size = 3;
  CHECK(cf_open(&options, &door, NULL) == CF_BAD_ARGUMENT);
  CHECK(cf_call(NULL, NULL, 0, &bytes) == CF_BAD_ARGUMENT);
  CHECK(cf_poll(NULL, &changes) == CF_BAD_ARGUMENT);
  CHECK(cf_zone_rules("Europe/Oslo", 11, (const uint8_t*)"x", 1) == CF_BAD_ARGUMENT);
  CHECK(cf_zone_rules(NULL, 0, NULL, 0) == CF_BAD_ARGUMENT);
  cf_close(NULL);
  cf_free(NULL);
  cf_free(&bytes);
  CHECK(released == 0); /* nothing was opened, so nothing was taken over */

  options = options_for("/no/such/folder", &calls);
  CHECK(cf_open(&options, &door, &bytes) == CF_NOT_OPENED);
  CHECK(contains(&bytes, "no such folder"));
  CHECK(cf_live_handles() == 1);
  cf_free(&bytes);
  cf_free(&bytes);
  CHECK(released == 1);
  CHECK(cf_open(&options, &door, NULL) == CF_NOT_OPENED);
  CHECK(cf_live_handles() == 0);
  released = 0;

  /* A larger struct of a later version opens as well. */
  {
    struct {
      cf_options options;
      uint64_t later;
    } grown = {{0, 0, NULL, 0, NULL, NULL, NULL, NULL}, 7};
    grown.options = options_for(NULL, &calls);
    grown.options.size = (uint32_t)sizeof grown;
    CHECK(cf_open(&grown.options, &door, &bytes) == CF_OK);
    CHECK(cf_call(door, NULL, 0, NULL) == CF_BAD_ARGUMENT);
    CHECK(cf_call(door, NULL, 5, &bytes) == CF_BAD_ARGUMENT);
    CHECK(cf_call(door, NULL, 0, &bytes) == CF_OK);
    CHECK(has_mistakes(&bytes) || contains(&bytes, "asks for nothing"));
    cf_free(&bytes);
    CHECK(cf_poll(door, NULL) == CF_BAD_ARGUMENT);
    cf_close(door);
  }
  CHECK(released == 1);
  released = 0;
}

static void load_sheet(cf_door* door, const char* sheet) {
  static Writer request;
  request.size = 0;
  put_text(&request, 1, "otter-bend.textproto");
  put_text(&request, 2, sheet);
  wrap(&request, 1);
  put_number(&request, 2, 1); /* keep */
  wrap(&request, 16);
  sure(door, &request, "Otter Bend Community Woodshop");
}

/* Twenty minutes at the table saw, by two people. */
static void end_session(cf_door* door) {
  static Writer request;
  request.size = 0;
  put_text(&request, 1, "table-saw");
  put_double(&request, 2, 20);
  put_text(&request, 3, "red-oak");
  wrap(&request, 6); /* a use */
  put_number(&request, 3, 2);
  put_text(&request, 2, "Regal f\xC3\xBCr K\xC3\xA4the \xF0\x9F\xAA\xB5");
  wrap(&request, 1);  /* the draft */
  wrap(&request, 16); /* a session that ended */
  put_text(&request, 1, "");
  wrap(&request, 22);
  sure(door, &request, "\xF0\x9F\xAA\xB5");
}

static void tick_off(cf_door* door, const char* duty) {
  static Writer request;
  request.size = 0;
  put_text(&request, 1, duty);
  wrap(&request, 1);
  put_double(&request, 2, 1.5);
  wrap(&request, 17);
  wrap(&request, 22);
  sure(door, &request, "1.5 min");
}

static void write_note(cf_door* door, const char* member, const char* text) {
  static Writer request;
  request.size = 0;
  put_text(&request, 1, text);
  wrap(&request, 29);
  put_text(&request, 1, member);
  wrap(&request, 22);
  sure(door, &request, text);
}

static void ask_empty(cf_door* door, unsigned field, const char* part) {
  static Writer request;
  request.size = 0;
  wrap(&request, field);
  sure(door, &request, part);
}

static void whole_session(const char* sheet) {
  char folder[64];
  char ledger[128];
  int calls = 0;
  uint64_t before = 0, after = 0;
  cf_options options;
  cf_door* door = NULL;
  static Writer broken;
  cf_bytes bytes;
  /* mkdtemp is not C99. */
  snprintf(folder, sizeof folder, "/tmp/chipfall-c-%u", (unsigned)rand());
  snprintf(ledger, sizeof ledger, "mkdir %s", folder);
  CHECK(system(ledger) == 0);
  options = options_for(folder, &calls);
  CHECK(cf_open(&options, &door, &bytes) == CF_OK);
  CHECK(bytes.data == NULL && bytes.size == 0);
  load_sheet(door, sheet);
  CHECK(cf_poll(door, &before) == CF_OK);
  end_session(door);
  CHECK(cf_poll(door, &after) == CF_OK);
  CHECK(after > before);
  tick_off(door, "reset:table-saw");
  write_note(door, "Kim \xF0\x9F\x91\xB7", "\xE6\x9C\xA8\xE3\x81\x8F\xE3\x81\x9A \xF0\x9F\xA7\xB9");
  ask_empty(door, 19, "red-oak");
  ask_empty(door, 23, "zone:");
  ask_empty(door, 24, "Kim \xF0\x9F\x91\xB7");
  ask_empty(door, 25, "local_time,utc,what");
  ask_empty(door, 26, "4 entries are saved");
  CHECK(calls > 0);
  /* Not UTF-8: an answer, not a crash. */
  broken.size = 0;
  put_text(&broken, 1, "\xFF\xFE");
  wrap(&broken, 29);
  wrap(&broken, 22);
  bytes = ask(door, &broken);
  CHECK(has_mistakes(&bytes) && contains(&bytes, "UTF-8"));
  cf_free(&bytes);
  cf_close(door);
  CHECK(released == 1);

  /* What was recorded is there again. */
  options.flags = CF_MUST_EXIST;
  options.random = NULL;
  CHECK(cf_open(&options, &door, NULL) == CF_OK);
  ask_empty(door, 24, "Kim \xF0\x9F\x91\xB7");
  cf_close(door);
  snprintf(ledger, sizeof ledger, "rm -r %s", folder);
  CHECK(system(ledger) == 0);
}

int main(int argc, char** argv) {
  char* sheet = argc == 2 ? read_whole(argv[1]) : NULL;
  unsigned seed;
  int local = 0;
  if (sheet == NULL) {
    fprintf(stderr, "usage: door_session_c SHEET\n");
    return 2;
  }
  /* Another folder for each run, without POSIX. */
  seed = (unsigned)((uintptr_t)&local ^ (uintptr_t)&malloc);
  srand(seed);
  CHECK(cf_abi_version() == CF_ABI_VERSION);
  CHECK(strlen(cf_version()) >= 5);
  misuse_is_refused();
  CHECK(cf_live_handles() == 0);
  whole_session(sheet);
  CHECK(cf_live_handles() == 0);
  return failures == 0 ? 0 : 1;
}
