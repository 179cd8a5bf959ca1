# Three stages: the chart library and the common passwords from npm, the binary, and a small image that runs it as a user without rights.

FROM node:22-bookworm-slim AS web
WORKDIR /web
COPY web/package.json web/package-lock.json web/.npmrc ./
RUN npm ci --omit=dev

FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
COPY --from=web /web/node_modules/echarts/dist/echarts.min.js web/static/vendor/
COPY --from=web /web/node_modules/@zxcvbn-ts/language-common/src/passwords.json web/passwords/common.json
RUN CGO_ENABLED=0 go build -trimpath -ldflags '-s -w' -o /tussock ./cmd/tussock

FROM debian:trixie-slim
# PostgreSQL's programs serve the private database, where no other is named, and "tussock backup" and "tussock restore".
# No cluster of Debian's own is made. wget asks after our health.
RUN mkdir /etc/postgresql-common \
 && echo 'create_main_cluster = false' > /etc/postgresql-common/createcluster.conf \
 && apt-get update \
 && apt-get install -y --no-install-recommends ca-certificates postgresql wget \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --uid 10001 --home-dir /var/lib/tussock --create-home --shell /usr/sbin/nologin tussock
COPY --from=build /tussock /usr/local/bin/tussock
USER tussock
WORKDIR /var/lib/tussock
VOLUME /var/lib/tussock
EXPOSE 8080
# serve refuses to listen beyond the container unless TUSSOCK_URL is the https address that people type.
HEALTHCHECK --interval=30s --timeout=5s --start-period=20s CMD ["wget", "-q", "-O", "/dev/null", "http://127.0.0.1:8080/healthz"]
ENTRYPOINT ["tussock"]
CMD ["serve", "--addr", ":8080", "--data", "/var/lib/tussock"]
