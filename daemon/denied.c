/* denied.c - what keeps a due floor from being served, for those who tell of it. */
#include "denied.h"

const char *denied_text(enum denied_by cause)
{
    static const char *const words[DENIED_COUNT] = {
        [DENIED_HOURS] = "hours or daily maximum",
        [DENIED_RESTS] = "minimum off and starts per hour",
        [DENIED_ORDER] = "orders or no power drawn",
        [DENIED_OUTPUT] = "the output",
        [DENIED_SUPPLY] = "the supply limit",
        [DENIED_BOARD] = "its switch at the board or its off-peak supply",
    };
    return (unsigned)cause < DENIED_COUNT && words[cause] ? words[cause] : "";
}
