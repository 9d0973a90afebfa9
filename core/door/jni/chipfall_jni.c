/* The door for the JVM and Android: ChipfallDoor.java over chipfall.h, and nothing else of the
 * library. Exports JNI_OnLoad alone, which names the functions to the JVM. */
#include <jni.h>
#include <string.h>

#include "core/door/chipfall.h"

#define CLASS_NAME "chipfall/ChipfallDoor"

static JavaVM* vm;
static jclass door_class; /* a global reference, for as long as the library is loaded */
static jmethodID now_ms_method, random_method;

/* The thread that called the door, which is one of the JVM's. */
static JNIEnv* environment(void) {
  JNIEnv* env = NULL;
  return (*vm)->GetEnv(vm, (void**)&env, JNI_VERSION_1_6) == JNI_OK ? env : NULL;
}

static int64_t clock_of_jvm(void* user) {
  JNIEnv* env = environment();
  jlong now_ms = 0;
  (void)user;
  if (env == NULL) return 0;
  now_ms = (*env)->CallStaticLongMethod(env, door_class, now_ms_method);
  if ((*env)->ExceptionCheck(env)) (*env)->ExceptionClear(env); /* a stack that is full */
  return now_ms;
}

static int32_t random_of_jvm(void* user, uint8_t* bytes, uint64_t size) {
  JNIEnv* env = environment();
  jbyteArray made;
  (void)user;
  if (env == NULL || size > 1 << 20) return 1;
  made = (jbyteArray)(*env)->CallStaticObjectMethod(env, door_class, random_method, (jint)size);
  if ((*env)->ExceptionCheck(env)) {
    (*env)->ExceptionClear(env); /* the door says that there is no chance to be had */
    return 1;
  }
  if (made == NULL || (uint64_t)(*env)->GetArrayLength(env, made) != size) return 1;
  (*env)->GetByteArrayRegion(env, made, 0, (jsize)size, (jbyte*)bytes);
  (*env)->DeleteLocalRef(env, made);
  return (*env)->ExceptionCheck(env) ? 1 : 0;
}

static void throw_new(JNIEnv* env, const char* kind, const char* message) {
  jclass found = (*env)->FindClass(env, kind);
  if (found != NULL) (*env)->ThrowNew(env, found, message);
}

static void throw_status(JNIEnv* env, cf_status status) {
  if (status == CF_NO_MEMORY) {
    throw_new(env, "java/lang/OutOfMemoryError", "the door has no memory");
  } else {
    throw_new(env, "java/lang/IllegalStateException", "the door failed; please report this");
  }
}

/* The bytes as Java's own; null with an exception pending where there is no memory for them. */
static jbyteArray java_bytes(JNIEnv* env, cf_bytes* bytes) {
  jbyteArray out = NULL;
  if (bytes->size <= INT32_MAX) out = (*env)->NewByteArray(env, (jsize)bytes->size);
  if (out != NULL && bytes->size > 0) {
    (*env)->SetByteArrayRegion(env, out, 0, (jsize)bytes->size, (const jbyte*)bytes->data);
  }
  cf_free(bytes);
  return out;
}

static jlong open_door(JNIEnv* env, jclass kind, jbyteArray folder, jboolean must_exist,
                       jobjectArray refused) {
  cf_options options;
  cf_door* door = NULL;
  cf_bytes error = {NULL, 0};
  cf_status status;
  jbyte* path = (*env)->GetByteArrayElements(env, folder, NULL);
  (void)kind;
  if (path == NULL) return 0;
  memset(&options, 0, sizeof options);
  options.size = sizeof options;
  options.flags = must_exist ? CF_MUST_EXIST : 0;
  options.data_folder = (const char*)path;
  options.data_folder_size = (uint64_t)(*env)->GetArrayLength(env, folder);
  options.clock = clock_of_jvm;
  options.random = random_of_jvm;
  status = cf_open(&options, &door, &error);
  (*env)->ReleaseByteArrayElements(env, folder, path, JNI_ABORT);
  if (status == CF_NOT_OPENED) {
    jbyteArray why = java_bytes(env, &error);
    if (why != NULL) (*env)->SetObjectArrayElement(env, refused, 0, why);
  } else if (status == CF_BAD_ARGUMENT) {
    throw_new(env, "java/lang/IllegalArgumentException", "this is no path of a folder");
  } else if (status != CF_OK) {
    throw_status(env, status);
  }
  return (jlong)(intptr_t)door;
}

static jbyteArray call_door(JNIEnv* env, jclass kind, jlong door, jbyteArray request) {
  cf_bytes response = {NULL, 0};
  cf_status status;
  jbyte* asked;
  (void)kind;
  if (request == NULL) {
    throw_new(env, "java/lang/NullPointerException", "request");
    return NULL;
  }
  asked = (*env)->GetByteArrayElements(env, request, NULL);
  if (asked == NULL) return NULL;
  status = cf_call((cf_door*)(intptr_t)door, (const uint8_t*)asked,
                   (uint64_t)(*env)->GetArrayLength(env, request), &response);
  (*env)->ReleaseByteArrayElements(env, request, asked, JNI_ABORT);
  if (status != CF_OK) {
    throw_status(env, status);
    return NULL;
  }
  return java_bytes(env, &response);
}

static jlong changes_of_door(JNIEnv* env, jclass kind, jlong door) {
  uint64_t changes = 0;
  const cf_status status = cf_poll((cf_door*)(intptr_t)door, &changes);
  (void)kind;
  if (status != CF_OK) throw_status(env, status);
  return (jlong)changes;
}

static void close_door(JNIEnv* env, jclass kind, jlong door) {
  (void)env;
  (void)kind;
  cf_close((cf_door*)(intptr_t)door);
}

static jstring version_of_library(JNIEnv* env, jclass kind) {
  (void)kind;
  return (*env)->NewStringUTF(env, cf_version()); /* ASCII */
}

/* Names of zones are ASCII, so that the JVM's own form of UTF-8 is UTF-8. */
static jboolean zone_rules(JNIEnv* env, jclass kind, jstring name, jbyteArray rules) {
  const char* text = NULL;
  jbyte* bytes = NULL;
  cf_status status = CF_BAD_ARGUMENT;
  (void)kind;
  if (name == NULL || rules == NULL) return JNI_FALSE;
  text = (*env)->GetStringUTFChars(env, name, NULL);
  if (text == NULL) return JNI_FALSE;
  bytes = (*env)->GetByteArrayElements(env, rules, NULL);
  if (bytes != NULL) {
    status = cf_zone_rules(text, strlen(text), (const uint8_t*)bytes,
                           (uint64_t)(*env)->GetArrayLength(env, rules));
    (*env)->ReleaseByteArrayElements(env, rules, bytes, JNI_ABORT);
  }
  (*env)->ReleaseStringUTFChars(env, name, text);
  return status == CF_OK ? JNI_TRUE : JNI_FALSE;
}

static jlong live_handles(JNIEnv* env, jclass kind) {
  (void)env;
  (void)kind;
  return (jlong)cf_live_handles();
}

JNIEXPORT jint JNICALL JNI_OnLoad(JavaVM* loading, void* reserved) {
  static const JNINativeMethod kFunctions[] = {
      {(char*)"open", (char*)"([BZ[Ljava/lang/Object;)J", (void*)open_door},
      {(char*)"call", (char*)"(J[B)[B", (void*)call_door},
      {(char*)"changes", (char*)"(J)J", (void*)changes_of_door},
      {(char*)"close", (char*)"(J)V", (void*)close_door},
      {(char*)"version", (char*)"()Ljava/lang/String;", (void*)version_of_library},
      {(char*)"zoneRules", (char*)"(Ljava/lang/String;[B)Z", (void*)zone_rules},
      {(char*)"liveHandles", (char*)"()J", (void*)live_handles},
  };
  JNIEnv* env;
  jclass found;
  (void)reserved;
  vm = loading;
  env = environment();
  /* A library that was exchanged under a binding of another version must not be used. */
  if (env == NULL || cf_abi_version() != CF_ABI_VERSION) return JNI_ERR;
  found = (*env)->FindClass(env, CLASS_NAME);
  if (found == NULL) return JNI_ERR;
  door_class = (jclass)(*env)->NewGlobalRef(env, found);
  if (door_class == NULL) return JNI_ERR;
  now_ms_method = (*env)->GetStaticMethodID(env, door_class, "nowMs", "()J");
  random_method = (*env)->GetStaticMethodID(env, door_class, "randomBytes", "(I)[B");
  if (now_ms_method == NULL || random_method == NULL) return JNI_ERR;
  if ((*env)->RegisterNatives(env, door_class, kFunctions,
                              (jint)(sizeof kFunctions / sizeof kFunctions[0])) != 0) {
    return JNI_ERR;
  }
  return JNI_VERSION_1_6;
}
