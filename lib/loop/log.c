/* log.c - one line, one write.
 *
 * A line is built whole and written by one system call, so that lines of
 * several threads never mix. What is logged may quote what came from outside: a
 * line break in it would begin a line without priority, so control characters
 * are shown as '?'. */
#include "loop/log.h"

#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <unistd.h>

enum { LINE_MAX_BYTES = 1024 };

static atomic_int most = LOG_LEVEL_INFO;

void log_set_level(enum log_level level)
{
    atomic_store_explicit(&most, (int)level, memory_order_relaxed);
}

static size_t clamp(int printed, size_t room)
{
    if (printed < 0) {
        return 0;
    }
    return (size_t)printed < room ? (size_t)printed : room - 1;
}

void log_line(enum log_level level, const char *format, ...)
{
    if ((int)level > atomic_load_explicit(&most, memory_order_relaxed)) {
        return;
    }
    char line[LINE_MAX_BYTES + 1]; /* and the line break */
    size_t prefix = clamp(snprintf(line, LINE_MAX_BYTES, "<%d>", (int)level), LINE_MAX_BYTES);
    va_list values;
    va_start(values, format);
    size_t used = prefix + clamp(vsnprintf(line + prefix, LINE_MAX_BYTES - prefix, format, values),
                                 LINE_MAX_BYTES - prefix);
    va_end(values);
    for (size_t i = prefix; i < used; i++) {
        unsigned char c = (unsigned char)line[i];
        if (c < ' ' || c == 0x7f) {
            line[i] = '?';
        }
    }
    line[used++] = '\n';
    /* A log that cannot be written has nowhere to say so. */
    ssize_t ignored = write(STDERR_FILENO, line, used);
    (void)ignored;
}
