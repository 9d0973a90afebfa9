#pragma once

// Of Mbed TLS, only what sync/lite/hashes.cpp calls.
#define MBEDTLS_SHA256_C
#define MBEDTLS_SHA256_SMALLER
#define MBEDTLS_MD_C
