/* While a grant is out, the daemon owns the time: nothing moves until it says
 * that its turn, polls and writes included, is done. */
#include "grant.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

struct grant {
    int listener, peer;
    char path[sizeof(((struct sockaddr_un *)0)->sun_path)];
    char heard[64];
    size_t length;
};

struct grant *grant_new(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    struct grant *grant = calloc(1, sizeof(*grant));
    if (!grant)
        return NULL;
    grant->listener = grant->peer = -1;
    if (strlen(path) >= sizeof(grant->path)) {
        errno = ENAMETOOLONG;
    } else {
        memcpy(grant->path, path, strlen(path) + 1);
        memcpy(address.sun_path, path, strlen(path) + 1);
        unlink(path);
        grant->listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
        if (grant->listener >= 0 &&
            bind(grant->listener, (struct sockaddr *)&address, sizeof(address)) == 0 &&
            listen(grant->listener, 1) == 0)
            return grant;
    }
    int error = errno;
    grant_free(grant);
    errno = error;
    return NULL;
}

void grant_free(struct grant *grant)
{
    if (!grant)
        return;
    if (grant->peer >= 0)
        close(grant->peer);
    if (grant->listener >= 0) {
        close(grant->listener);
        unlink(grant->path);
    }
    free(grant);
}

bool grant_connected(const struct grant *grant)
{
    return grant->peer >= 0;
}

int grant_fd(const struct grant *grant)
{
    return grant->peer >= 0 ? grant->peer : grant->listener;
}

void grant_accept(struct grant *grant)
{
    grant->peer = accept4(grant->listener, NULL, NULL, SOCK_CLOEXEC);
    grant->length = 0;
}

static void lose(struct grant *grant)
{
    close(grant->peer);
    grant->peer = -1;
}

bool grant_send(struct grant *grant, struct moment moment)
{
    char line[80];
    int length = snprintf(line, sizeof(line), "grant %" PRId64 " %" PRId64 " %d\n", moment.mono.ms,
                          moment.wall.ms, moment.wall_trusted);
    if (send(grant->peer, line, (size_t)length, MSG_NOSIGNAL) == length)
        return true;
    lose(grant);
    return false;
}

enum grant_news grant_hear(struct grant *grant)
{
    ssize_t got = recv(grant->peer, grant->heard + grant->length,
                       sizeof(grant->heard) - 1 - grant->length, MSG_DONTWAIT);
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return GRANT_NOTHING;
    if (got <= 0) {
        lose(grant);
        return GRANT_GONE;
    }
    grant->length += (size_t)got;
    grant->heard[grant->length] = '\0';
    if (!strchr(grant->heard, '\n') && grant->length + 1 < sizeof(grant->heard))
        return GRANT_NOTHING;
    bool done = strcmp(grant->heard, "done\n") == 0;
    grant->length = 0;
    if (done)
        return GRANT_DONE;
    fprintf(stderr, "simhouse: \"%.60s\" where \"done\" is expected\n", grant->heard);
    lose(grant);
    return GRANT_GONE;
}

void grant_close(struct grant *grant)
{
    if (grant->peer >= 0)
        shutdown(grant->peer, SHUT_WR);
}
