/* confirmation.c - the words for what has become of an order. */
#include "terms/confirmation.h"

#include <stddef.h>

bool output_is_known(enum output_health health)
{
    return health == OUTPUT_CONFIRMED || health == OUTPUT_PENDING;
}

const char *output_health_text(enum output_health health)
{
    static const char *const text[] = {
        [OUTPUT_UNKNOWN] = "unknown", [OUTPUT_CONFIRMED] = "confirmed",
        [OUTPUT_PENDING] = "pending", [OUTPUT_FAILED] = "failed",
        [OUTPUT_UNSAFE] = "unsafe",   [OUTPUT_UNCONFIRMED] = "unconfirmed",
    };
    return (size_t)health < sizeof(text) / sizeof(text[0]) ? text[health] : "unknown";
}
