/* small_file.c - one open, one read: attributes of the kernel are made at each. */
#include "sensor/small_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"

/* Not blocking: a pipe in its place would hold the thread for good. */
bool small_file_read(const char *path, char text[static SMALL_FILE_MAX], struct trouble *trouble)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    ssize_t length = fd < 0 ? -1 : read(fd, text, SMALL_FILE_MAX - 1);
    int error = errno;
    if (fd >= 0)
        close(fd);
    if (length < 0)
        return trouble_set(trouble, "", "%.100s: %s", path, strerror(error));
    text[length] = '\0';
    return length > 0 || trouble_set(trouble, "", "%.100s: it is empty", path);
}

void small_file_wrong(const char *expected, const char *path, setting_say *say, void *context)
{
    char quoted[TEXT_SHORT_SIZE], wrong[TROUBLE_TEXT_MAX];
    struct text text = text_in(wrong, sizeof wrong);
    text_add(&text, "file: expected %s, not \"%s\"", expected, text_shorten(quoted, path));
    say(context, "file", wrong);
}

bool small_file_check(const char *path, setting_say *say, void *context)
{
    if (!path[0] || path[0] == '/')
        return true;
    small_file_wrong("a whole path, such as /sys/...", path, say, context);
    return false;
}

bool plain_number(const char *text, double *number)
{
    size_t length = strspn(text, "+-.0123456789");
    char *end = NULL;
    *number = strtod(text, &end);
    return length > 0 && end == text + length && end[strspn(end, " \t\r\n")] == '\0';
}

bool small_file_number(const char *path, const char *text, double *number, struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    return plain_number(text, number) ||
           trouble_set(trouble, "", "%.100s: expected a number, not \"%.*s\"", path,
                       (int)strcspn(text, "\n"), text_shorten(quoted, text));
}
