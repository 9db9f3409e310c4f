/* service.c - a child of its own session waits for this process to end: neither a lost
 * connection nor a kill leaves the house without its controller. */
#include "service.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stddef.h>
#include <sys/wait.h>
#include <unistd.h>

#define UNIT "sluiced"

extern char **environ;

static bool ended_well(pid_t child)
{
    int status = -1;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

static bool run(const char *const words[])
{
    pid_t child;
    if (posix_spawnp(&child, words[0], NULL, NULL, (char *const *)words, environ) != 0)
        return false;
    return ended_well(child);
}

bool service_is_active(void)
{
    return run((const char *const[]){"systemctl", "is-active", "--quiet", UNIT, NULL});
}

bool service_stop(void)
{
    return run((const char *const[]){"systemctl", "stop", UNIT, NULL});
}

static void wait_and_start(int from)
{
    struct pollfd end = {.fd = from, .events = POLLIN};
    sigset_t none;
    sigemptyset(&none);
    setsid();
    signal(SIGINT, SIG_IGN);
    signal(SIGHUP, SIG_IGN);
    signal(SIGTERM, SIG_IGN);
    sigprocmask(SIG_SETMASK, &none, NULL);
    while (poll(&end, 1, SERVICE_STOPPED_MOST_MIN * 60 * 1000) < 0 && errno == EINTR)
        continue;
    _exit(run((const char *const[]){"systemctl", "start", UNIT, NULL}) ? 0 : 1);
}

bool service_guard_begin(struct service_guard *guard)
{
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) != 0)
        return false;
    guard->child = fork();
    if (guard->child == 0) {
        close(ends[1]);
        wait_and_start(ends[0]);
    }
    close(ends[0]);
    guard->pipe = ends[1];
    if (guard->child > 0)
        return true;
    close(ends[1]);
    return false;
}

bool service_start(struct service_guard *guard)
{
    close(guard->pipe);
    return ended_well(guard->child);
}
