/* hex.h - "01 03 9C 40" as bytes, so that tests quote frames as the standards print them. */
#ifndef SLUICE_TESTS_FRAME_HEX_H
#define SLUICE_TESTS_FRAME_HEX_H

#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

/* Returns how many bytes the text holds; `bytes` has room for at least those. */
static inline size_t bytes_of_hex(const char *text, uint8_t bytes[])
{
    size_t count = 0;
    for (char *end;; text = end) {
        unsigned long value = strtoul(text, &end, 16);
        if (end == text)
            return count;
        bytes[count++] = (uint8_t)value;
    }
}

#endif
