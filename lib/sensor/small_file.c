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
