using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Https;

namespace Cardassay.Collector.Commands;

/// <summary>The doors of a collector: where it listens, with which protocol and limits.</summary>
internal static class CollectorDoors
{
    /// <summary>Connections of one door; the boards' has limits of its own, see <see cref="DoorLimits"/>.</summary>
    private static readonly int MaxConnections = DoorLimits.Total + 256;

    private const int MaxStreams = 32;

    /// <summary>Sets the doors up; they open when the collector starts.</summary>
    /// <param name="builder">The collector that is being made.</param>
    /// <param name="options">Which doors there are.</param>
    /// <param name="tls">Makes the TLS of the boards' door.</param>
    /// <param name="pageTls">TLS of the page; null for a page on loopback.</param>
    internal static void Open(WebApplicationBuilder builder, CollectorOptions options, Func<TlsHandshakeCallbackOptions> tls,
        TlsHandshakeCallbackOptions? pageTls)
    {
        // Made here and not in the callback below, so that an authority that cannot be used is a sentence and not a failed start.
        TlsHandshakeCallbackOptions? boardsTls = options.Listen is null ? null : tls();
        builder.WebHost.ConfigureKestrel(kestrel =>
        {
            kestrel.AddServerHeader = false;
            kestrel.Limits.MaxConcurrentConnections = MaxConnections; // of each door
            kestrel.Limits.Http2.MaxStreamsPerConnection = MaxStreams;
            if (options.Listen is not null || options.PlainText is not null)
            {
                // A board that fell silent is to be noticed. A command's own collector has no boards: there the report of a large
                // laboratory can keep every processor busy for minutes, and a late answer would cut the command off.
                kestrel.Limits.Http2.KeepAlivePingDelay = TimeSpan.FromSeconds(20);
                kestrel.Limits.Http2.KeepAlivePingTimeout = TimeSpan.FromSeconds(10);
            }

            File.Delete(options.SocketPath); // the folder's lock is ours: a socket left here is stale
            kestrel.ListenUnixSocket(options.SocketPath, listen => Mark(listen, HttpProtocols.Http2, ListenerKind.Operator));
            if (options.GroupSocket is { } ofGroup)
            {
                File.Delete(ofGroup);
                kestrel.ListenUnixSocket(ofGroup, listen => Mark(listen, HttpProtocols.Http2, ListenerKind.Operator));
            }

            if (options.Listen is { } boards)
            {
                kestrel.Listen(boards, listen =>
                {
                    Mark(listen, HttpProtocols.Http2, ListenerKind.Boards);
                    Doorkeeper door = kestrel.ApplicationServices.GetRequiredService<Doorkeeper>();
                    listen.Use(next => connection => door.ArriveAsync(connection, () => next(connection)));
                    listen.UseHttps(boardsTls!);
                    listen.Use(next => connection => door.EnterAsync(connection, () => next(connection)));
                });
            }

            if (options.PlainText is { } plain)
            {
                kestrel.Listen(plain, listen => Mark(listen, HttpProtocols.Http2, ListenerKind.PlainText));
            }

            if (options.Page is { } page)
            {
                kestrel.Listen(page, listen =>
                {
                    Mark(listen, HttpProtocols.Http1, pageTls is null ? ListenerKind.Page : ListenerKind.Readers);
                    if (pageTls is not null)
                    {
                        listen.UseHttps(pageTls);
                    }
                });
            }
        });
    }

    /// <summary>Gives a listener its protocol and marks everything that comes through it with its door.</summary>
    private static void Mark(ListenOptions listen, HttpProtocols protocols, ListenerKind kind)
    {
        listen.Protocols = protocols;
        listen.Use(next => connection =>
        {
            connection.Features.Set(new ListenerFeature(kind));
            return next(connection);
        });
    }
}
