/* trouble.c - filling in an error.
 *
 * A finder often wraps what another has found ("load heater: ..."), so the
 * arguments may point into the very trouble that is being filled in: everything
 * is made beside it first and copied afterwards. */
#include "trouble.h"

#include <stdarg.h>

#include "text.h"

static void copy(char *to, size_t size, const char *from)
{
    struct text text = text_in(to, size);
    text_add(&text, "%s", from);
}

bool trouble_set(struct trouble *trouble, const char *place, const char *format, ...)
{
    struct trouble made;
    va_list arguments;
    copy(made.place, sizeof(made.place), place ? place : "");
    va_start(arguments, format);
    struct text text = text_in(made.text, sizeof(made.text));
    text_add_list(&text, format, arguments);
    va_end(arguments);
    *trouble = made;
    return false;
}
