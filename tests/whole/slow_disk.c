/* slow_disk.c - preloaded into sluiced: a card whose flushes take as long as the test
 * wants. While the file named by SLOW_DISK is there, fsync and fdatasync wait; that one
 * does is told by another file, whose name ends in ".waiting". */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

int fsync(int fd);
int fdatasync(int fd);

static void tell(const char *path)
{
    char name[512];
    snprintf(name, sizeof(name), "%s.waiting", path);
    int fd = open(name, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (fd >= 0)
        close(fd);
}

static void wait_for_the_disk(void)
{
    static const struct timespec step = {.tv_nsec = 10 * 1000 * 1000};
    const char *path = getenv("SLOW_DISK");
    if (!path || access(path, F_OK) != 0)
        return;
    tell(path);
    while (access(path, F_OK) == 0)
        nanosleep(&step, NULL);
}

int fsync(int fd)
{
    wait_for_the_disk();
    return (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
    wait_for_the_disk();
    return (int)syscall(SYS_fdatasync, fd);
}
