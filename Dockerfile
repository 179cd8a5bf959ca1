# Three stages: the chart library from npm, the binary, and a small image that runs it as a user without rights.

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
RUN CGO_ENABLED=0 go build -trimpath -ldflags '-s -w' -o /tussock ./cmd/tussock

FROM debian:bookworm-slim
# postgresql-client brings pg_dump and pg_restore, for "tussock backup" and "tussock restore"; wget asks after our health.
RUN apt-get update \
 && apt-get install -y --no-install-recommends ca-certificates postgresql-client wget \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --uid 10001 --home-dir /nonexistent --shell /usr/sbin/nologin tussock
COPY --from=build /tussock /usr/local/bin/tussock
USER tussock
EXPOSE 8080
HEALTHCHECK --interval=30s --timeout=5s --start-period=20s CMD ["wget", "-q", "-O", "/dev/null", "http://127.0.0.1:8080/healthz"]
ENTRYPOINT ["tussock"]
CMD ["serve", "--addr", ":8080"]
