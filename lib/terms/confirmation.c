/* confirmation.c - the words for what has become of an order. */
#include "terms/confirmation.h"

#include <stddef.h>

const char *output_health_text(enum output_health health)
{
    static const char *const text[] = {
        [OUTPUT_UNKNOWN] = "unknown", [OUTPUT_CONFIRMED] = "confirmed",
        [OUTPUT_PENDING] = "pending", [OUTPUT_FAILED] = "failed",
        [OUTPUT_UNSAFE] = "unsafe",   [OUTPUT_UNCONFIRMED] = "unconfirmed",
    };
    return (size_t)health < sizeof(text) / sizeof(text[0]) ? text[health] : "unknown";
}
