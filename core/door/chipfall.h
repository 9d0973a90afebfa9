/* The door to Chipfall: the one interface through which every shell calls the core.
 *
 * C99 and C++; needs nothing but stdint.h. What is asked and answered is serialized protobuf,
 * messages Request and Response of core/proto/door.proto; mistakes of people are answers with
 * their place and what would be right, never a status below.
 *
 *  1. Ownership. What you pass in stays yours and is not looked at after the call. Bytes that you
 *     get (cf_bytes) are yours until you give them to cf_free. A door is yours until cf_close.
 *  2. Null. A pointer may be null only where its function says so; elsewhere null gives
 *     CF_BAD_ARGUMENT and nothing happens. Bytes of size 0 may have a null pointer.
 *  3. Threads. Any thread may call any function. Calls of one door wait for each other; calls of
 *     different doors do not. Nothing here starts a thread. cf_close must be the last call of its
 *     door. Your functions (clock, random) are called only during cf_open, cf_call and cf_poll, on
 *     the calling thread, and must not call that door. cf_call may take tens of milliseconds and
 *     waits for the disk: keep it off the thread that draws.
 *  4. Errors. Functions that can fail give a cf_status. Whatever the bytes, nothing crashes and no
 *     exception comes out. After CF_NO_MEMORY or CF_INTERNAL the door can go on being used; what
 * was asked then may or may not have been recorded: ask the history.
 *  5. Text is UTF-8 with its length in bytes; nothing needs or counts a closing zero.
 *  6. Durability. When cf_call answers that something was recorded, it is on the disk.
 *  7. Versions. Compare cf_abi_version() with CF_ABI_VERSION when the library is loaded at run
 *     time. Within one ABI version functions are only added, structs grow only at their end and say
 *     their size first, numbers keep their meaning; see DEVELOPERS.md.
 */
#ifndef CHIPFALL_H
#define CHIPFALL_H

#include <stdint.h>

#if defined(_WIN32)
#define CF_API __declspec(dllexport)
#elif defined(__GNUC__)
#define CF_API __attribute__((visibility("default")))
#else
#define CF_API
#endif

#ifdef __cplusplus
#define CF_NOEXCEPT noexcept
extern "C" {
#else
#define CF_NOEXCEPT
#endif

#define CF_ABI_VERSION 1u

typedef int32_t cf_status;
#define CF_OK 0
#define CF_BAD_ARGUMENT 1 /* a null pointer, or a struct of a size that cannot be */
#define CF_NO_MEMORY 2
#define CF_NOT_OPENED 3 /* cf_open alone: the error's bytes say why */
#define CF_INTERNAL 4   /* a defect of the library; please report it */

/* A door that is open. */
typedef struct cf_door cf_door;

/* Bytes that the library made. */
typedef struct cf_bytes {
  uint8_t* data; /* null when size is 0 */
  uint64_t size;
} cf_bytes;

/* The wall clock: ms since 1970-01-01T00:00Z. */
typedef int64_t (*cf_clock)(void* user);

/* Fills `size` bytes with ones that nobody can guess; not 0 when it could not. */
typedef int32_t (*cf_random)(void* user, uint8_t* bytes, uint64_t size);

#define CF_MUST_EXIST 1u /* cf_options.flags: refuse a folder without a ledger */

typedef struct cf_options {
  uint32_t size;           /* sizeof(cf_options) */
  uint32_t flags;          /* 0, or CF_MUST_EXIST */
  const char* data_folder; /* an existing folder; null or of size 0: nothing is kept */
  uint64_t data_folder_size;
  cf_clock clock;   /* not null */
  cf_random random; /* may be null when the folder has a ledger, or when there is none; joining and
                       syncing are then refused */
  void* user;       /* goes to clock, random and release_user; may be null */
  void (*release_user)(void* user); /* may be null; called once: by cf_close, or by a cf_open that
                                       fails with anything but CF_BAD_ARGUMENT */
} cf_options;

/* The version that the library was built as; compare with CF_ABI_VERSION. Never fails. */
CF_API uint32_t cf_abi_version(void) CF_NOEXCEPT;

/* The library's own version, such as "0.1.0": closed by a zero, valid forever, not to be freed. */
CF_API const char* cf_version(void) CF_NOEXCEPT;

/* Opens the door. On CF_OK *door is yours to close. Otherwise *door is null, and *error has a
 * serialized Response with the mistakes, to be freed (empty where there was no memory for it).
 * `error` may be null. */
CF_API cf_status cf_open(const cf_options* options, cf_door** door, cf_bytes* error) CF_NOEXCEPT;

/* Asks. `request` may be null when size is 0. On CF_OK *response has a serialized Response, to be
 * freed; otherwise it is empty. */
CF_API cf_status cf_call(cf_door* door, const uint8_t* request, uint64_t size,
                         cf_bytes* response) CF_NOEXCEPT;

/* Puts a number into *changes that grows whenever something on a screen may have changed, also by
 * another process. Cheap enough for every second; ask again what you show when it is another one.
 */
CF_API cf_status cf_poll(cf_door* door, uint64_t* changes) CF_NOEXCEPT;

/* Closes the door; everything that was recorded stays. `door` may be null. */
CF_API void cf_close(cf_door* door) CF_NOEXCEPT;

/* Gives bytes back and empties them. `bytes` may be null, or empty already. */
CF_API void cf_free(cf_bytes* bytes) CF_NOEXCEPT;

/* Makes the rules of a time zone known to all doors where the device has no time zone database:
 * the bytes of a compiled zone file (TZif, RFC 8536). Give them before the sheet is loaded.
 * CF_BAD_ARGUMENT where name or bytes are none. */
CF_API cf_status cf_zone_rules(const char* name, uint64_t name_size, const uint8_t* bytes,
                               uint64_t size) CF_NOEXCEPT;

/* Doors and bytes that nobody has given back yet: 0 when all is tidy. For tests. Never fails. */
CF_API uint64_t cf_live_handles(void) CF_NOEXCEPT;

#ifdef __cplusplus
}
#endif

#endif /* CHIPFALL_H */
