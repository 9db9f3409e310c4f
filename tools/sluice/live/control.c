/* control.c - the client's end of the control socket.
 *
 * The daemon answers between two of its turns, so an answer takes milliseconds; a
 * daemon that is stopped or stuck is told from one that is not there. */
#include "control.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include "core/text.h"

enum { PATIENCE_S = 10, ANSWER_MAX = 4 * 1024 * 1024, ANSWER_STEP = 16 * 1024 };

static bool fail_connect(struct trouble *trouble, const char *path)
{
    switch (errno) {
    case ENOENT:
        return trouble_set(trouble, "",
                           "no daemon at \"%s\": is sluiced running? A socket elsewhere is named "
                           "by --socket PATH or SLUICE_SOCKET",
                           path);
    case ECONNREFUSED:
        return trouble_set(
            trouble, "", "\"%s\" is there, but no daemon listens on it: is sluiced running?", path);
    case EACCES:
        return trouble_set(trouble, "",
                           "\"%s\" may not be used by you: be root or a member of its group", path);
    default:
        return trouble_set(trouble, "", "\"%s\": %s", path, strerror(errno));
    }
}

static int open_socket(const char *path, struct trouble *trouble)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof(address.sun_path)) {
        trouble_set(trouble, "", "\"%s\" is too long for a socket: at most %zu bytes are expected",
                    path, sizeof(address.sun_path) - 1);
        errno = ENAMETOOLONG;
        return -1;
    }
    memcpy(address.sun_path, path, strlen(path) + 1);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const struct timeval patience = {.tv_sec = PATIENCE_S};
    if (fd >= 0 && setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience)) == 0 &&
        setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof(patience)) == 0 &&
        connect(fd, (struct sockaddr *)&address, sizeof(address)) == 0)
        return fd;
    int error = errno;
    fail_connect(trouble, path);
    if (fd >= 0)
        close(fd);
    errno = error;
    return -1;
}

bool control_nobody_listens(const char *path)
{
    struct trouble unused;
    int fd = open_socket(path, &unused);
    if (fd < 0)
        return errno == ENOENT || errno == ECONNREFUSED;
    close(fd);
    return false;
}

static bool send_line(int fd, const char *request, struct trouble *trouble)
{
    char line[1024];
    int length = snprintf(line, sizeof(line), "%s\n", request);
    if (length >= (int)sizeof(line))
        return trouble_set(trouble, "", "\"%.40s...\" is too long for a request", request);
    if (send(fd, line, (size_t)length, MSG_NOSIGNAL) == length)
        return true;
    return trouble_set(trouble, "", "the daemon does not take a request: %s", strerror(errno));
}

static char *receive_line(int fd, struct trouble *trouble)
{
    size_t used = 0, room = 0;
    char *answer = NULL;
    while (used < ANSWER_MAX) {
        if (room - used < 2) {
            room += ANSWER_STEP;
            char *more = realloc(answer, room);
            if (!more)
                break;
            answer = more;
        }
        ssize_t got = recv(fd, answer + used, room - used - 1, 0);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0) {
            bool late = got < 0 && errno == EAGAIN;
            trouble_set(trouble, "",
                        late ? "the daemon has not answered within %d s"
                             : "the daemon closed without a whole answer",
                        PATIENCE_S);
            break;
        }
        used += (size_t)got;
        answer[used] = '\0';
        char *end = memchr(answer + used - got, '\n', (size_t)got);
        if (end) {
            *end = '\0';
            return answer;
        }
    }
    if (used >= ANSWER_MAX)
        trouble_set(trouble, "", "the daemon's answer does not end");
    free(answer);
    return NULL;
}

char *control_ask(const char *path, const char *request, struct trouble *trouble)
{
    int fd = open_socket(path, trouble);
    if (fd < 0)
        return NULL;
    char *answer = send_line(fd, request, trouble) ? receive_line(fd, trouble) : NULL;
    close(fd);
    return answer;
}

cJSON *control_status(const char *path, struct trouble *trouble)
{
    char *answer = control_ask(path, "status", trouble);
    cJSON *status = answer ? cJSON_Parse(answer) : NULL;
    if (answer && !cJSON_IsArray(cJSON_GetObjectItemCaseSensitive(status, "loads"))) {
        trouble_set(trouble, "", "what answered is no status of sluiced");
        cJSON_Delete(status);
        status = NULL;
    }
    free(answer);
    return status;
}

enum status control_order(const struct invocation *at, const char *request)
{
    struct trouble trouble;
    char *answer = control_ask(at->socket, request, &trouble);
    if (!answer)
        return complain(STATUS_NOT_THERE, "%s", trouble.text);
    cJSON *root = cJSON_Parse(answer);
    const cJSON *ok = cJSON_GetObjectItemCaseSensitive(root, "ok");
    const cJSON *text = cJSON_GetObjectItemCaseSensitive(root, "text");
    enum status status = STATUS_DONE;
    if (!cJSON_IsBool(ok) || !cJSON_IsString(text))
        status = complain(STATUS_NOT_THERE, "\"%.80s\" is not an answer of sluiced", answer);
    else if (cJSON_IsTrue(ok))
        puts(text->valuestring);
    else
        status = complain(STATUS_REFUSED, "%s", text->valuestring);
    cJSON_Delete(root);
    free(answer);
    return status;
}

bool control_word_ok(const char *word, const char *what)
{
    size_t length = strlen(word);
    for (size_t k = 0; k < length; k++)
        if ((unsigned char)word[k] <= ' ') {
            complain(STATUS_USAGE, "\"%s\" is not %s: no blanks are expected in it", word, what);
            return false;
        }
    if (length > 0)
        return true;
    complain(STATUS_USAGE, "\"\" is not %s", what);
    return false;
}
