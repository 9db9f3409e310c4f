/* failing_fsync.c - preloaded: a disk that takes no more, and says so only when it is asked to
 * have written (fsync(2), EIO). */
#include <errno.h>
#include <unistd.h>

int fsync(int fd)
{
    (void)fd;
    errno = EIO;
    return -1;
}
