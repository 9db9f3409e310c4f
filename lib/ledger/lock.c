/* lock.c - flock(2) on PATH.lock, which stays there. */
#include "ledger/lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <sys/file.h>

void lock_name(const char *path, char name[static LOCK_NAME_MAX])
{
    snprintf(name, LOCK_NAME_MAX, "%s.lock", path);
}

bool lock_take(const char *path, int *lock)
{
    char name[LOCK_NAME_MAX];
    lock_name(path, name);
    *lock = open(name, O_RDWR | O_CREAT | O_CLOEXEC, 0640);
    return *lock < 0 || flock(*lock, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
}
