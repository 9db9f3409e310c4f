/* sha256.h - SHA-256 (FIPS 180-4): the figure by which a file is known to be the same. */
#ifndef SLUICE_TOOLS_SHA256_H
#define SLUICE_TOOLS_SHA256_H

#include <stddef.h>

enum { SHA256_TEXT_SIZE = 65 };

/* As 64 digits, small letters: what sha256sum(1) prints. */
void sha256_text(const void *bytes, size_t size, char text[static SHA256_TEXT_SIZE]);

#endif
