# Ohmstead without a PostgreSQL of its own: see docker-compose.yml.
FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=0 go build -trimpath -buildvcs=false -ldflags=-s -o /ohmstead ./cmd/ohmstead

# Alpine for its wget, which asks for /healthz.
FROM alpine:3
COPY --from=build /ohmstead /usr/local/bin/ohmstead
USER 65534:65534
EXPOSE 8080
ENTRYPOINT ["/usr/local/bin/ohmstead"]
