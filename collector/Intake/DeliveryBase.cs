using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Intake;

/// <summary>The server's side of <see cref="V1.Delivery"/> as the generated base has it, but for what a board's messages are read into.</summary>
[BindServiceMethod(typeof(DeliveryBase), nameof(Bind))]
internal abstract class DeliveryBase
{
    private static readonly Method<BoardMessage, V1.FromCollector> Stream = new(
        MethodType.DuplexStreaming,
        V1.Delivery.Descriptor.FullName,
        nameof(Deliver),
        Marshallers.Create((_, _) => throw new NotSupportedException("The collector sends none."), from => BoardMessage.Read(from.PayloadAsReadOnlySequence())),
        Marshallers.Create<V1.FromCollector>(Write, _ => throw new NotSupportedException("The collector gets none.")));

    /// <summary>Serves one board's stream.</summary>
    public abstract Task Deliver(
        IAsyncStreamReader<BoardMessage> requestStream, IServerStreamWriter<V1.FromCollector> responseStream, ServerCallContext context);

    /// <summary>Called by the server library, which finds it by the attribute above.</summary>
    public static void Bind(ServiceBinderBase binder, DeliveryBase? service) =>
        binder.AddMethod(Stream, service is null ? null : new DuplexStreamingServerMethod<BoardMessage, V1.FromCollector>(service.Deliver));

    private static void Write(V1.FromCollector message, SerializationContext to)
    {
        to.SetPayloadLength(message.CalculateSize());
        message.WriteTo(to.GetBufferWriter());
        to.Complete();
    }
}
